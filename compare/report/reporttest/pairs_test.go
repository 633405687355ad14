package reporttest_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/course"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/report/reporttest"
	terminal "offbeat/compare/report/text"
	"offbeat/compare/retune"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// printed is all the text of a document, without what only a page or only text has.
func printed(d *document.Document) string {
	var b strings.Builder
	fmt.Fprintln(&b, strings.Join(d.Answer, "\n"), "\n", d.Subject)
	for _, s := range d.Sections {
		for _, k := range s.Blocks {
			fmt.Fprintln(&b, k.Label, k.Text)
			if k.Table != nil {
				fmt.Fprintln(&b, k.Table.Caption)
			}
		}
	}
	return b.String()
}

// tabled is the first table of a section.
func tabled(t *testing.T, d *document.Document, id string) *document.Table {
	t.Helper()
	for _, s := range d.Sections {
		for _, b := range s.Blocks {
			if s.ID == id && b.Table != nil {
				return b.Table
			}
		}
	}
	t.Fatalf("no table %q", id)
	return nil
}

// No two of the numbers and words that a finding prints contradict each other: every pair that can is walked, on boards that
// were integrated, recorded and reconciled, and on as many captures with the noise, the hum, the modulation and the changes that
// benches see.
func TestNoTwoContradict(t *testing.T) {
	seen := map[string]int{}
	for name, b := range pages(t) {
		walk(t, name, b, seen)
		rendered(t, name, b, seen)
	}
	for name, b := range disturbed(t) {
		walk(t, name, b, seen)
		rendered(t, name, b, seen)
		record(t, name, b, seen)
	}
	promised(t, seen)
	for _, what := range []string{"excluded", "value", "moved", "interval", "estimate", "verdict", "side", "count", "deviation", "advice", "noise", "Allan", "intermittent", "modulated", "hum", "drift", "shares", "judged", "row", "promise"} {
		if seen[what] == 0 {
			t.Errorf("nothing was seen of %q: the test says too little", what)
		}
	}
}

// disturbed are lamps whose captures are disturbed, some of each kind: OFFBEAT_STUDY is how many, 2 otherwise.
func disturbed(t *testing.T) map[string]*document.Basis {
	each := 2
	if n, err := strconv.Atoi(os.Getenv("OFFBEAT_STUDY")); err == nil {
		each = n
	}
	all := map[string]*document.Basis{}
	for kind, disturb := range disturbances {
		for seed := range uint64(each) {
			rnd := rand.New(rand.NewPCG(seed, 41))
			n := fittest.Network{Circuit: fittest.Astable, R1: 10e3 * (0.8 + 0.4*rnd.Float64()), R2: 47e3 * (0.8 + 0.4*rnd.Float64()), C: 100e-9, Supply: 5}
			high, low, err := fittest.Integrate(n)
			if err != nil {
				t.Fatal(err)
			}
			w := measuretest.Wave{Kind: acquire.Transitions, Step: 1e-8, High: high, Low: low, Cycles: 20.3 + 200*rnd.Float64()}
			w.White = 1e-4 * high * rnd.Float64()
			edges := disturb(&w, rnd)
			if edges == nil {
				edges = w.Edges(rnd)
			}
			m, err := measure.Run(w.CaptureOf(edges, rnd), measure.Options{ClockLimit: 50e-6})
			if err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
			b := &document.Basis{Design: reporttest.Lamp(), Measurements: []*fit.Measurement{m}}
			if b.Finding, b.Evidence, err = reconcile.Solve(b.Design, b.Measurements); err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
			measured := reconcile.Measured(m)
			b.Finding.Captures = []compare.Capture{{Source: "lamp", Measured: &measured, Cycles: m.Cycles, Stability: course.Of(m, nil, 0)}}
			all[fmt.Sprint(kind, " ", seed)] = b
		}
	}
	return all
}

// disturbances change a wave, or give the edges of another, one that is not steady.
var disturbances = map[string]func(w *measuretest.Wave, rnd *rand.Rand) []float64{
	"few":   func(w *measuretest.Wave, rnd *rand.Rand) []float64 { w.Cycles = 3.3 + 3*rnd.Float64(); return nil },
	"walk":  func(w *measuretest.Wave, rnd *rand.Rand) []float64 { w.HighStep = 1e-3 * w.High; return nil },
	"drift": func(w *measuretest.Wave, rnd *rand.Rand) []float64 { w.Drift = 0.01 * rnd.NormFloat64(); return nil },
	"hum": func(w *measuretest.Wave, rnd *rand.Rand) []float64 {
		w.Hum = measuretest.Hum{Frequency: 50, High: [2]float64{3e-3}, Low: [2]float64{3e-3}, Phase: rnd.Float64()}
		return nil
	},
	"flicker": func(w *measuretest.Wave, rnd *rand.Rand) []float64 { w.Flicker = 1e-3; return nil },
	"wander":  func(w *measuretest.Wave, rnd *rand.Rand) []float64 { w.Wander = 3e-4; return nil },
	"modulated": func(w *measuretest.Wave, rnd *rand.Rand) []float64 {
		return w.Longer(rnd, func(x float64) float64 { return 5e-3 * math.Sin(2*math.Pi*9.3*x) })
	},
	"jump": func(w *measuretest.Wave, rnd *rand.Rand) []float64 {
		return w.Longer(rnd, func(x float64) float64 { return 0.04 * math.Round(x) })
	},
}

// record walks what a finding says of its capture: noise, hum, modulation, changes.
func record(t *testing.T, name string, b *document.Basis, seen map[string]int) {
	f, m, s := b.Finding, b.Measurements[0], b.Finding.Captures[0].Stability
	d := document.Of(b)
	text := printed(d)
	wrong := func(format string, args ...any) { t.Errorf("%s: %s", name, fmt.Sprintf(format, args...)) }

	// The stated uncertainty of the period lies between those without a walk and with one.
	p := m.Period()
	if u := s.Period; u != nil {
		if seen["noise"]++; p.Uncertainty < 0.999*min(u.White, u.Walk) || p.Uncertainty > 1.001*max(u.White, u.Walk) {
			wrong("the period is known to %g, without a walk to %g, with one to %g", p.Uncertainty, u.White, u.Walk)
		}
	}
	// Noise that adds up from period to period at least, as it does where the Allan deviation falls no faster than by averaging, lets
	// the mean of N periods be no better known than that over n by the root of n/N, but for chance (95 % of χ² with 2 degrees of
	// freedom).
	if k := len(s.Allan); k > 1 && len(m.Stretches) == 0 && m.Slow.Hum == 0 {
		first, last := s.Allan[0], s.Allan[k-1]
		if n := last.Time / p.Value; last.Value > first.Value/math.Sqrt(n) {
			if seen["Allan"]++; p.Uncertainty/p.Value < last.Value*math.Sqrt(n/float64(m.Cycles)/3) {
				wrong("period to %.3g, Allan deviation %.3g over %.0f of %d periods", p.Uncertainty/p.Value, last.Value, n, m.Cycles)
			}
		}
	}
	// What changes inside is never passed, and never needs nothing; what does not has no stretches.
	if strings.HasPrefix(f.Finding, "Intermittent") != (len(m.Changes) > 0) || len(m.Changes) != max(len(f.Stretches)-1, 0) || len(s.Changes) != len(m.Changes) {
		wrong("%d changes, %d stretches, %q", len(m.Changes), len(f.Stretches), f.Finding)
	}
	if len(m.Changes) > 0 {
		if seen["intermittent"]++; f.Verdict.Result == "pass" || strings.HasPrefix(f.Finding, "On target") || strings.Contains(text, "None needed") {
			wrong("intermittent, %s, %q", f.Verdict.Result, text)
		}
	}
	if modulated := m.Slow.Amplitude > 0; modulated != strings.Contains(d.Short, "modulated") || (modulated && !m.Slow.Mains) != strings.Contains(strings.Join(d.Answer, " "), "Modulated") {
		wrong("modulated %v, %q, %q", m.Slow.Modulation, d.Answer, d.Short)
	}
	if m.Slow.Amplitude > 0 {
		if seen["modulated"]++; p.Uncertainty < m.Slow.Amplitude*p.Value/2 && !m.Slow.Mains || strings.Contains(text, "random-walk period noise (") {
			wrong("modulated by %g, period to %g", m.Slow.Amplitude, p.Uncertainty/p.Value)
		}
	}
	if m.Slow.HumUnseen {
		if seen["hum"]++; m.Slow.Hum > 0 || !strings.Contains(text, "can't show hum") || !strings.Contains(d.Short, "mains hum") {
			wrong("hum can't be seen, %g Hz, %q", m.Slow.Hum, d.Short)
		}
	}
	if s.Drift.Told() {
		if seen["drift"]++; s.Drift.Seen != (math.Abs(s.Drift.Value) > compare.Seen*s.Drift.Uncertainty) {
			wrong("drift %g ± %g, seen %v", s.Drift.Value, s.Drift.Uncertainty, s.Drift.Seen)
		}
	}
}

// rendered reads the bytes that a user gets, text, page and JSON of one board: what each prints agrees with itself and with the others.
func rendered(t *testing.T, name string, b *document.Basis, seen map[string]int) {
	f := b.Finding
	if f == nil || f.Latch != nil || b.Proposals != nil || len(f.Causes) == 0 {
		return
	}
	var plain, web, data bytes.Buffer
	if err := errors.Join(terminal.Write(&plain, document.Of(b), terminal.Style{Width: 200}), page.Write(&web, document.Of(b), page.Maker{}), report.JSON(&data, f)); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var j struct {
		Measured map[string]compare.Measured
		Causes   []struct{ Probability float64 }
		Verdict  struct{ Result string }
	}
	if err := json.Unmarshal(data.Bytes(), &j); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(strings.NewReplacer("\u2212", "-", "+", "", "< ", "", "> ", "", "<", "", ">", "").Replace(s), 64)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		return x
	}
	bare := html.UnescapeString(tags.ReplaceAllString(script.ReplaceAllString(web.String(), " "), " "))
	for of, flat := range map[string]string{"text": plain.String(), "page": bare} {
		flat = strings.Join(strings.Fields(flat), " ")
		wrong := func(format string, args ...any) { t.Errorf("%s, %s: %s", name, of, fmt.Sprintf(format, args...)) }
		// The headline's probability is the JSON's, and so is that of the table's first row.
		want := quantity.Probability(j.Causes[0].Probability)
		if p := headline.FindStringSubmatch(flat); p == nil || p[1] != want {
			wrong("the headline has %q, the JSON %s", p, want)
		}
		if first := row.FindStringSubmatch(flat); first == nil || first[3] != want {
			wrong("the causes begin with %q, the JSON with %s", first, want)
		}
		// A verdict, its conformance probability, and the headline's word.
		for _, v := range judged.FindAllStringSubmatch(flat, -1) {
			if seen["judged"]++; v[1] == "pass" && number(v[2]) < 95 || v[1] == "fail" && number(v[2]) > 5 || v[1] == "fail" && (j.Verdict.Result != "fail" || strings.HasPrefix(flat, "On target")) {
				wrong("%q, verdict %s", v[0], j.Verdict.Result)
			}
		}
		// Shares add up to the last digit.
		for _, d := range missed.FindAllStringSubmatch(flat, -1) {
			sum := 0.0
			for _, p := range percent.FindAllStringSubmatch(d[3], -1) {
				sum += number(p[1])
			}
			if seen["shares"]++; !(math.Abs(math.Abs(sum)-number(d[1])) <= 1e-6) || (sum > 0) != (d[2] == "high") {
				wrong("the shares of %q add up to %g", d[0], sum)
			}
		}
		// A time and its ± are the JSON's to the digits that are printed, and the period is as well known as the frequency.
		var relative []float64
		for _, q := range []struct{ key, name string }{{"high_time", "high time"}, {"low_time", "low time"}, {"period", "period"}, {"frequency", "frequency"}} {
			m, ok := j.Measured[q.key]
			r := regexp.MustCompile(q.name + ` \(([\d.]+) ± ([\d.]+)\)`).FindStringSubmatch(flat)
			if !ok || r == nil {
				continue
			}
			if seen["row"]++; !(math.Abs(number(r[2])/number(r[1])/(m.Uncertainty/m.Value)-1) <= 0.06) {
				wrong("%q against %g ± %g", r[0], m.Value, m.Uncertainty)
			}
			relative = append(relative, number(r[2])/number(r[1]))
		}
		if len(relative) == 4 && !(math.Abs(relative[2]/relative[3]-1) <= 0.12) {
			wrong("period ± %g, frequency ± %g, relative", relative[2], relative[3])
		}
	}
}

// What is looked for in printed bytes.
var (
	script   = regexp.MustCompile(`(?s)<(script|style|svg)\b.*?</(script|style|svg)>`)
	tags     = regexp.MustCompile(`<[^>]*>`)
	row      = regexp.MustCompile(`(CAUSES|[Pp]robability [Cc]ause( prior odds)?) ([<>]? ?[\d.]+ %)`)
	headline = regexp.MustCompile(`\(probability ([<>]? ?[\d.]+ %)\)`)
	judged   = regexp.MustCompile(`: (pass|fail|undecided); conformance probability ([<>]? ?[\d.]+) %`)
	missed   = regexp.MustCompile(` against [^:]{1,30}: ([\d.]+) % (high|low): ([^:]*? %)\.`)
	percent  = regexp.MustCompile(`([+\x{2212}]?[\d.]+) %`)
)

// promised has a lamp retuned that is a fifth too slow, which now and then no listed cause explains, and reads what each change comes to
// as it is printed: its probability on target, how much is foretold, and the range that holds 95 % of that.
func promised(t *testing.T, seen map[string]int) {
	w := measuretest.Wave{Kind: acquire.Transitions, Step: 1e-8, High: 4.88e-3, Low: 4.08e-3, Cycles: 20.3}
	rnd := rand.New(rand.NewPCG(1, 41))
	m, err := measure.Run(w.CaptureOf(w.Edges(rnd), rnd), measure.Options{ClockLimit: 50e-6})
	if err != nil {
		t.Fatal(err)
	}
	b := &document.Basis{Design: reporttest.Lamp(), Measurements: []*fit.Measurement{m}}
	if b.Finding, b.Evidence, err = reconcile.Solve(b.Design, b.Measurements); err != nil {
		t.Fatal(err)
	}
	if b.Proposals, err = retune.Run(b.Design, b.Evidence, retune.Options{}); err != nil || len(b.Proposals) == 0 {
		t.Fatalf("%d proposals, %v", len(b.Proposals), err)
	}
	var plain bytes.Buffer
	if err := terminal.Write(&plain, document.Of(b), terminal.Style{Width: 2000}); err != nil {
		t.Fatal(err)
	}
	in := plain.String()[strings.Index(plain.String(), "WHAT TO FIT"):]
	share := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Errorf("%q is no percentage", s)
		}
		return x / 100
	}
	said := promise.FindAllStringSubmatch(in, -1)
	if len(said) != len(b.Proposals) {
		t.Fatalf("%d promises of %d proposals read in %s", len(said), len(b.Proposals), in)
	}
	for i, m := range said {
		on, foretold := share(m[1]), 1.0
		if m[2] != "" {
			foretold = share(m[2])
		}
		seen["promise"]++
		missed, outside := 0.02, false
		for _, g := range b.Design.Targets {
			band := b.Proposals[i].Predicted.Each()[compare.PlaceOf(g.Quantity)]
			missed += 0.05
			outside = outside || band.Low < g.Low || band.High > g.High
		}
		if on > foretold+0.005 || !outside && on < foretold-missed || outside && on > 0.98*foretold+0.01 {
			t.Errorf("proposal %d: on target %.3f, foretold %.3f, its ranges outside the limits: %v", i+1, on, foretold, outside)
		}
	}
}

var promise = regexp.MustCompile(`\(on target with probability (?:> )?([\d.]+) %\)[^\n]*\n[^\n]*?Then (?:as far as foretold \((?:> )?([\d.]+) %\), )?`)

// walk takes a finding's pairs that have nothing to do with how its captures run.
func walk(t *testing.T, name string, b *document.Basis, seen map[string]int) {
	f := b.Finding
	if f == nil || f.Latch != nil || b.Proposals != nil || len(f.Causes) == 0 {
		return
	}
	d := document.Of(b)
	text, top := printed(d), &f.Causes[0]
	wrong := func(format string, args ...any) { t.Errorf("%s: %s", name, fmt.Sprintf(format, args...)) }

	// The headline's probability and the table's first row; the headline's cause and the list of what is excluded.
	first := tabled(t, d, "causes").Rows[0]
	if first[0].Text != quantity.Probability(top.Probability) || !strings.Contains(strings.Join(f.Answer, " "), "(probability "+first[0].Text+")") {
		wrong("the headline %q against the first row %q", f.Answer, first[0].Text)
	}
	if _, list, ok := strings.Cut(f.Reasoning, "Excluded: "); ok {
		list, _, _ = strings.Cut(list, ".")
		for _, c := range f.Causes {
			for _, word := range []string{cause.Title(c.Cause, c.Parts), cause.Of(c.Cause, c.Parts).Kind} {
				if seen["excluded"]++; c.Probability >= 0.001 && slices.Contains(strings.Split(list, ", "), word) {
					wrong("%s is excluded and has %s", word, quantity.Probability(c.Probability))
				}
			}
		}
	}

	// The headline's value of a part lies in the table's interval, and its certainty agrees with P(out of tolerance).
	outside := map[string]float64{}
	for _, c := range f.Causes {
		if c.Cause == "shifted" || c.Cause == "other value" {
			for _, p := range c.Parts {
				outside[p] += c.Probability
			}
		}
	}
	for _, p := range f.Parts {
		if p.Unsupported {
			continue
		}
		if top.Cause == "shifted" && len(top.Parts) == 1 && top.Parts[0] == p.Name && top.Probability > 0.5 {
			if seen["value"]++; top.Value != nil && (*top.Value < p.Interval95[0] || *top.Value > p.Interval95[1]) {
				wrong("the headline has %s at %g, the table within %v", p.Name, *top.Value, p.Interval95)
			}
		}
		// A cause says that a part is out of tolerance; against a baseline, that it has moved, which its change since then shows.
		switch moved := p.Change; {
		case moved == nil && p.OutOfTolerance < outside[p.Name]-0.02:
			wrong("%s is out of tolerance with %v by the causes and %v by the table", p.Name, outside[p.Name], p.OutOfTolerance)
		case moved != nil && outside[p.Name] > 0.976: // the rest fits into a tail of the interval
			if seen["moved"]++; moved.Interval95[0] < 1 && moved.Interval95[1] > 1 {
				wrong("%s has moved with %v by the causes, by a factor within %v by the table", p.Name, outside[p.Name], moved.Interval95)
			}
		}
		// The interval and P(out of tolerance) are of the same part.
		within := p.Interval95[0] >= p.Limits[0] && p.Interval95[1] <= p.Limits[1]
		without := p.Interval95[1] < p.Limits[0] || p.Interval95[0] > p.Limits[1]
		if seen["interval"]++; within && p.OutOfTolerance > 0.051 || without && p.OutOfTolerance < 0.949 {
			wrong("%s within %v, limits %v, and out of tolerance with %v", p.Name, p.Interval95, p.Limits, p.OutOfTolerance)
		}
		if seen["estimate"]++; p.Value < p.Interval95[0] || p.Value > p.Interval95[1] {
			wrong("%s: %g outside %v", p.Name, p.Value, p.Interval95)
		}
	}

	// The verdict, its probability and the word in the headline; the guard band is two standard uncertainties.
	word := map[string]string{"pass": "On target", "fail": "Off target", "undecided": "Undecided"}[f.Verdict.Result]
	leads := f.Answer[0]
	if strings.HasPrefix(leads, "The period ") { // moves: the verdict comes next, and is none that passes
		leads = strings.Replace(f.Answer[1], "Not passed", "Undecided", 1)
	}
	if word != "" && len(f.Stretches) == 0 && !strings.HasPrefix(leads, word) {
		wrong("verdict %s, headline %q", f.Verdict.Result, f.Answer)
	}
	for _, q := range f.Verdict.Each {
		if seen["verdict"]++; q.Result == "pass" && q.ProbabilityIn < 0.95 || q.Result == "fail" && q.ProbabilityIn > 0.05 {
			wrong("%s: %s with conformance probability %v", q.Quantity, q.Result, q.ProbabilityIn)
		}
	}

	// The times agree with each other, with their sides, and with the nominal and its deviation.
	m := f.Measured.Each()
	if m[2] != nil {
		if !(math.Abs(m[3].Value*m[2].Value-1) <= 1e-9) || !(math.Abs(m[4].Value*m[2].Value/m[0].Value-1) <= 1e-6) || !(math.Abs((m[0].Value+m[1].Value)/m[2].Value-1) <= 1e-6) {
			wrong("high %v, low %v, period %v, frequency %v, duty factor %v", m[0].Value, m[1].Value, m[2].Value, m[3].Value, m[4].Value)
		}
		if !(math.Abs(m[3].Uncertainty/m[3].Value/(m[2].Uncertainty/m[2].Value)-1) <= 0.02) {
			wrong("period ± %g, frequency ± %g, relative", m[2].Uncertainty/m[2].Value, m[3].Uncertainty/m[3].Value)
		}
	}
	times, e := tabled(t, d, "times"), f.Predicted.Each()
	for _, row := range times.Rows {
		i := slices.IndexFunc(compare.Quantities[:], func(q compare.Quantity) bool { return q.Name == row[0].Text })
		line := ""
		for _, c := range row {
			line += c.Text + " "
		}
		if seen["side"]++; e[i] != nil && strings.Contains(line, "above") != (m[i].Value > e[i].High) || strings.Contains(line, "below") != (m[i].Value < e[i].Low) {
			wrong("%s of %g against %g … %g", line, m[i].Value, e[i].Low, e[i].High)
		}
		if up, down := strings.Contains(line, "+"), strings.Contains(line, " \u2212"); e[i] != nil && (up && m[i].Value < e[i].Nominal || down && m[i].Value > e[i].Nominal) {
			wrong("%s against nominal %g", line, e[i].Nominal)
		}
	}

	// One count of cycles; the shares of a deviation add up to what is printed of it.
	counts := map[string]bool{}
	for _, n := range regexp.MustCompile(`(\d+) whole (cycle|pulse)s?`).FindAllStringSubmatch(d.Subject+"\n"+times.Caption, -1) {
		counts[n[1]] = true
		seen["count"]++
	}
	if len(counts) > 1 && !strings.Contains(times.Caption, "longest stretch") {
		wrong("several counts of cycles: %v in %q and %q", counts, d.Subject, times.Caption)
	}
	sums := map[string]float64{}
	for _, q := range f.Deviation {
		sums[q.Quantity] += q.Value
	}
	for q, sum := range sums {
		i := slices.IndexFunc(compare.Quantities[:], func(t compare.Quantity) bool { return t.Key == q })
		against := 0.0
		if e[i] != nil {
			against = e[i].Nominal
		}
		for _, g := range b.Design.Targets {
			if g.Quantity == q {
				against = g.Value
			}
		}
		if seen["deviation"]++; !(math.Abs(math.Log(m[i].Value/against)-sum) <= 2e-3) {
			wrong("%s: the shares add up to %g, the whole is %g", q, sum, math.Log(m[i].Value/against))
		}
	}

	// Repairs are advised from the threshold on, readings below it; what is done next is no part of what is excluded.
	repair := slices.ContainsFunc(f.Next, func(n compare.Next) bool { return n.Kind == nextreading.Repair })
	if seen["advice"]++; repair != (top.Probability >= 0.95 && cause.Repair(top.Cause, top.Parts) != "") {
		wrong("a repair is advised: %v, with %v for %s", repair, top.Probability, top.Cause)
	}

	// No probability is certain, whatever it is of.
	for _, p := range regexp.MustCompile(`(?:probability|yield) ([<>]? ?[\d.]+) %`).FindAllStringSubmatch(text, -1) {
		if x, err := strconv.ParseFloat(p[1], 64); err == nil && (x <= 0 || x >= 100) {
			wrong("%q", p[0])
		}
	}
}

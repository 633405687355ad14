package reconcile

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/series"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/fittest"
	"offbeat/fit/posterior"
)

// menu are the readings that the study offers. A fixed order is one of their 8! orders.
var menu = []struct {
	kind, part string
	minutes    float64
}{
	{nextreading.Resistance, "R1", 4},
	{nextreading.Resistance, "R2", 4},
	{nextreading.Capacitance, "C1", 6},
	{nextreading.Control, "", 1},
	{nextreading.Waveform, "", 5},
	{nextreading.KnownPart, "C1", 3},
	{nextreading.Warming, "C1", 2},
	{nextreading.Instrument, "", 3},
}

// glimpse is a look at a part of the study's board, or at the board. Looks stand behind the menu in a mask.
type glimpse struct {
	*cause.Look
	part string
}

// glimpses are all looks that the board offers.
func glimpses(b *cause.Board) (out []glimpse) {
	for i := range cause.Looks {
		for _, part := range cause.Looks[i].Subjects(b.Circuit, b.Parts) {
			out = append(out, glimpse{&cause.Looks[i], part})
		}
	}
	return out
}

// patient is a board with a cause that only the study knows, timed by integrating Kirchhoff's law.
type patient struct {
	design  *fit.Design
	network fittest.Network
	clock   float64        // factor by which the first instrument reads long
	misfit  [3][2]float64  // what no listed cause explains, logarithms, one a setting
	truth   string         // key of the cause
	chance  [3 * 8]float64 // errors of the readings, -1 … 1
	known   map[int]outcome
	advices map[int][8]float64
	looks   []glimpse
	found   []bool            // what each look shows, drawn from the odds that the true cause gives it
	looked  map[int][]float64 // by mask, the bits that each look promises, behind those of the menu
	noise   [3][2]float64
}

// outcome is where the back-solve stands after some readings.
type outcome struct {
	settled, right bool
	stated         float64 // probability of the likeliest explanation
	entropy        float64 // of the explanations, bits
}

const settledAt = 0.95

// admit draws a patient: the cause by its odds, everything else by the documented prior forms.
func admit(rng *rand.Rand) *patient {
	for {
		p := &patient{known: map[int]outcome{}, advices: map[int][8]float64{}, looked: map[int][]float64{}, clock: math.Exp(50e-6 * (2*rng.Float64() - 1))}
		p.design = design("astable")
		d := p.design
		tolerance := [][3]float64{{0.01, 0.01, 0.1}, {0.05, 0.05, 0.1}, {0.01, 0.01, 0.05}, {0.01, 0.01, 0.2}}[rng.IntN(4)]
		for i := range d.Parts {
			d.Parts[i].Minus, d.Parts[i].Plus = tolerance[i], tolerance[i]
		}
		// Every kind of cause is as likely as every other.
		d.Odds = map[string]float64{"shifted": 1. / 3, "two_shifted": 0.05, "other_value": 1. / 3, "exchanged": 1, "leakage": 1, "thresholds": 1, "discharge": 1, "clock": 1, "unexplained": 1}
		b, err := cause.NewBoard(d)
		if err != nil {
			return nil
		}
		value := func(nominal, tol float64) float64 { return nominal * (1 + tol*(2*rng.Float64()-1)) }
		var v [3]float64
		for i, part := range d.Parts {
			v[i] = value(part.Nominal, part.Plus)
		}
		cases := b.Cases()
		total, at := 0.0, 0
		for _, k := range cases {
			total += k.Odds
		}
		for u := rng.Float64() * total; at < len(cases)-1; at++ {
			if u -= cases[at].Odds; u < 0 {
				break
			}
		}
		what := cases[at]
		p.truth = cause.Key(what.Cause, what.Parts)
		n := &p.network
		*n = fittest.Network{Circuit: "astable", Supply: 5}
		index := map[string]int{"R1": 0, "R2": 1, "C1": 2}
		switch what.Cause {
		case "shifted":
			for _, name := range what.Parts {
				i := index[name]
				e := math.Exp(0.25 * rng.ExpFloat64())
				if v[i] = d.Parts[i].High() * e; rng.IntN(2) == 0 {
					v[i] = d.Parts[i].Low() / e
				}
			}
		case "other value":
			i := index[what.Parts[0]]
			v[i] = value(otherValue(rng, d.Parts[i]), d.Parts[i].Plus)
		case "exchanged":
			v[0], v[1] = value(d.Parts[1].Nominal, tolerance[0]), value(d.Parts[0].Nominal, tolerance[1])
		case "leakage":
			n.Leak = (v[0] + v[1]) * 2.2 * math.Pow(300/2.2, rng.Float64())
		case "thresholds":
			n.Upper = 0.4 + 0.5*rng.Float64()
			n.Lower = n.Upper / 2
		case "discharge":
			n.Weak = v[1] * math.Pow(0.01, rng.Float64())
		case "clock":
			p.clock = math.Exp(0.02 * rng.NormFloat64())
		case "unexplained":
			for i := range p.misfit {
				p.misfit[i] = [2]float64{rng.NormFloat64(), rng.NormFloat64()}
			}
		}
		n.R1, n.R2, n.C = v[0], v[1], v[2]
		if n.Upper == 0 {
			n.Upper, n.Lower = 2./3, 1./3
		}
		for i := range p.chance {
			p.chance[i] = 2*rng.Float64() - 1
		}
		for i := range p.noise {
			p.noise[i] = [2]float64{5e-5 * rng.NormFloat64(), 5e-5 * rng.NormFloat64()}
		}
		if _, _, err := fittest.Integrate(*n); err == nil {
			p.looks = glimpses(b)
			eyes := rand.New(rand.NewPCG(rng.Uint64(), 27))
			for _, l := range p.looks {
				chance := b.Finds(l.Look, l.part, &what)
				p.found = append(p.found, eyes.Float64() < l.Careless+telling()*(chance-l.Careless))
			}
			return p
		}
	}
}

// telling is by what the odds that a cause shows in a look are multiplied in the study's world; the program believes in one.
func telling() float64 {
	if x, err := strconv.ParseFloat(os.Getenv("ADVICE_TELLING"), 64); err == nil {
		return x
	}
	return 1
}

// otherValue draws one of the other values of the decade, or with weight three each a decade slip.
func otherValue(rng *rand.Rand, p fit.Part) float64 {
	up, down := series.Slips(p.Nominal)
	tickets := []float64{up, up, up, down, down, down}
	for _, x := range series.E24.Decade(p.Nominal) {
		if x < p.Low()*(1-1e-9) || x > p.High()*(1+1e-9) {
			tickets = append(tickets, x)
		}
	}
	return tickets[rng.IntN(len(tickets))]
}

// timed measures a network; setting picks the noise and the misfit.
func (p *patient) timed(n fittest.Network, clock float64, setting int) (*fit.Measurement, bool) {
	h, l, err := fittest.Integrate(n)
	if err != nil {
		return nil, false
	}
	of := func(x float64, k int) fit.Estimate {
		x *= clock * math.Exp(p.misfit[setting][k]+p.noise[setting][k])
		return fit.Estimate{Value: x, Uncertainty: 5e-5 * x, Count: 100}
	}
	return &fit.Measurement{High: of(h, 0), Low: of(l, 1), Clock: 50e-6, Cycles: 100}, true
}

// after is where the back-solve stands once the readings of the mask have been taken.
func (p *patient) after(t *testing.T, mask int) outcome {
	if o, ok := p.known[mask]; ok {
		return o
	}
	s := p.solve(t, mask)
	var o outcome
	share := map[string]float64{}
	for i, k := range s.explanations() {
		share[k] += s.result.Outcomes[i].Probability
	}
	top := ""
	for k, x := range share {
		if x > share[top] {
			top = k
		}
		if x > 0 {
			o.entropy -= x * math.Log2(x)
		}
	}
	o.stated, o.settled, o.right = share[top], share[top] >= settledAt, top == p.truth
	p.known[mask] = o
	return o
}

// solve takes the readings of the mask into account.
func (p *patient) solve(t *testing.T, mask int) *solved {
	d := *p.design
	d.Readings, d.Looks = nil, nil
	first, _ := p.timed(p.network, p.clock, 0)
	obs := []question.Observation{{Measurement: first}}
	n := p.network
	for i, m := range menu {
		if mask>>i&1 == 0 {
			continue
		}
		off := func(limit float64) float64 { return 1 + limit*p.chance[3*i] }
		read := func(name string, x, limit float64) {
			x *= off(limit)
			d.Readings = append(d.Readings, fit.Reading{Name: name, Value: x, Half: limit * x})
		}
		with := func(n fittest.Network, clock float64, setting int, c fit.Condition) {
			if m, ok := p.timed(n, clock, setting); ok {
				obs = append(obs, question.Observation{Measurement: m, Conditions: []fit.Condition{c}})
			}
		}
		switch m.kind {
		case nextreading.Resistance:
			read(m.part, map[string]float64{"R1": n.R1, "R2": n.R2}[m.part], 0.005)
		case nextreading.Capacitance:
			read("C1", n.C, 0.01)
		case nextreading.Control:
			read("control", n.Upper*n.Supply, 0.005)
		case nextreading.Waveform:
			end := 1.0
			if n.Leak > 0 {
				end = n.Leak / (n.Leak + n.R1 + n.R2)
			}
			for k, f := range []posterior.Fact{
				{Of: func(v *circuit.Values) float64 { return v[circuit.Upper] }, Value: n.Upper},
				{Of: func(v *circuit.Values) float64 { return v[circuit.Upper] * v[circuit.Half] }, Value: n.Lower},
				{Of: func(v *circuit.Values) float64 {
					if k := v[circuit.LeakRatio]; k > 0 {
						return k / (1 + k)
					}
					return 1
				}, Value: end},
			} {
				f.Half = 0.01
				f.Value += 0.01 * p.chance[3*i+k]
				obs[0].Facts = append(obs[0].Facts, f)
			}
		case nextreading.KnownPart:
			more := n
			more.C += 100e-9 * off(0.01)
			with(more, p.clock, 1, condition(fit.InParallel, "C1", 100e-9, 0.01))
		case nextreading.Warming:
			warm := n
			warm.C *= 1 + 20*300e-6*p.chance[3*i]
			warm.Leak *= math.Pow(nextreading.LeakPerTen, nextreading.LeakExponent((p.chance[3*i+1]+1)/2)*2)
			with(warm, p.clock, 2, condition(fit.Warmed, "C1", 45, 0))
		case nextreading.Instrument:
			m, _ := p.timed(n, math.Exp(50e-6*p.chance[3*i]), 0)
			obs = append(obs, question.Observation{Measurement: m, Conditions: []fit.Condition{condition(fit.OtherClock, "", 50e-6, 0)}})
		}
	}
	for i, l := range p.looks {
		if mask>>(len(menu)+i)&1 == 1 {
			d.Looks = append(d.Looks, fit.Look{Name: l.Name, Part: l.part, Found: p.found[i]})
		}
	}
	s, err := without(t.Context(), &d, obs)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// ranked is what each reading of the menu promises in bits; 0: it is not advised.
func (p *patient) ranked(t *testing.T, mask int) (bits [8]float64) {
	if r, ok := p.advices[mask]; ok {
		return r
	}
	defer func() { p.advices[mask] = bits }()
	s := p.solve(t, mask)
	b := &nextreading.Bench{Circuit: s.Board.Circuit, Parts: s.Board.Parts, Typical: s.Problem.Base}
	for _, x := range nextreading.Rank(b, s.result, s.explanations(), 99) {
		for i, m := range menu {
			if m.kind == x.Kind && m.part == x.Part {
				bits[i] = x.Information
			}
		}
	}
	return bits
}

// sighted is what each reading of the menu and each look behind it promises in bits.
func (p *patient) sighted(t *testing.T, mask int) []float64 {
	if r, ok := p.looked[mask]; ok {
		return r
	}
	bits := make([]float64, len(menu)+len(p.looks))
	s := p.solve(t, mask)
	b := &nextreading.Bench{Circuit: s.Board.Circuit, Parts: s.Board.Parts, Typical: s.Problem.Base, Cases: s.Cases, Board: s.Board}
	for _, x := range nextreading.Rank(b, s.result, s.explanations(), 99) {
		for i, m := range menu {
			if m.kind == x.Kind && m.part == x.Part {
				bits[i] = x.Information
			}
		}
		for i, l := range p.looks {
			if x.Kind == nextreading.Look && l.Text(l.part) == x.Reading {
				bits[len(menu)+i] = x.Information
			}
		}
	}
	p.looked[mask] = bits
	return bits
}

// minutesOf is what a reading of the menu or a look behind it takes.
func (p *patient) minutesOf(i int) float64 {
	if i < len(menu) {
		return menu[i].minutes
	}
	return p.looks[i-len(menu)].Minutes
}

// seeing follows the advice with its looks; with no advice left it takes the readings of the menu in turn.
func (p *patient) seeing(t *testing.T) treatment {
	return p.follow(t, func(mask, _ int) int {
		at := -1
		for i, x := range p.sighted(t, mask) {
			if mask>>i&1 == 0 && x > 0 && (at < 0 || perMinute(x, p.minutesOf(i)) > perMinute(p.sighted(t, mask)[at], p.minutesOf(at))) {
				at = i
			}
		}
		for i := 0; at < 0; i++ {
			if mask>>i&1 == 0 {
				at = i
			}
		}
		return at
	})
}

// looksFirst takes every look of a minute, then the readings in a fixed order.
func (p *patient) looksFirst(t *testing.T, order string) treatment {
	var all []int
	for i, l := range p.looks {
		if l.Minutes <= 1 {
			all = append(all, len(menu)+i)
		}
	}
	for _, k := range order {
		all = append(all, int(k-'1'))
	}
	return p.follow(t, func(_, taken int) int { return all[taken] })
}

// treatment is what an order of readings, fixed or advised, came to on one patient.
type treatment struct {
	readings int
	minutes  float64
	last     outcome
}

// follow takes readings until the cause is settled or nothing is left to read.
func (p *patient) follow(t *testing.T, next func(mask, taken int) int) treatment {
	var c treatment
	for mask := 0; ; c.readings++ {
		c.last = p.after(t, mask)
		const whole = 1<<8 - 1 // of the menu
		if c.last.settled || mask&whole == whole {
			return c
		}
		i := next(mask, c.readings)
		mask |= 1 << i
		c.minutes += p.minutesOf(i)
	}
}

// fixed is what a fixed order takes.
func (p *patient) fixed(t *testing.T, order []int) treatment {
	return p.follow(t, func(_, taken int) int { return order[taken] })
}

// advised follows the advice: of the readings not taken yet the first in its ranking. best gives it the worth of a reading
// of so many bits and minutes.
func (p *patient) advised(t *testing.T, best func(bits, minutes float64) float64) treatment {
	return p.follow(t, func(mask, _ int) int { return p.advice(t, mask, best) })
}

// hindsight is the shortest treatment that settles the cause, had one known what each reading would show; no order of any
// kind needs less.
func (p *patient) hindsight(t *testing.T) treatment {
	best := treatment{readings: len(menu) + 1}
	for mask, o := range p.known {
		if n := bits.OnesCount(uint(mask)); o.settled && n < best.readings && mask < 1<<len(menu) {
			best = treatment{readings: n, last: o}
			for i := range menu {
				if mask>>i&1 == 1 {
					best.minutes += menu[i].minutes
				}
			}
		}
	}
	if best.readings > len(menu) {
		return p.fixed(t, []int{0, 1, 2, 3, 4, 5, 6, 7})
	}
	return best
}

// advice is the best of the readings that are on the menu, ranked and not taken yet; with no advice left, the first.
func (p *patient) advice(t *testing.T, mask int, best func(bits, minutes float64) float64) int {
	bits := p.ranked(t, mask)
	at := -1
	for i := range menu {
		if mask>>i&1 == 0 && bits[i] > 0 && (at < 0 || best(bits[i], menu[i].minutes) > best(bits[at], menu[at].minutes)) {
			at = i
		}
	}
	if at >= 0 {
		return at
	}
	for i := range menu {
		if mask>>i&1 == 0 {
			return i
		}
	}
	return 0
}

// explore solves every set of readings that some order reaches before it settles.
func (p *patient) explore(t *testing.T, mask int, seen map[int]bool) {
	if seen[mask] {
		return
	}
	seen[mask] = true
	if p.after(t, mask).settled {
		return
	}
	for i := range menu {
		if mask>>i&1 == 0 {
			p.explore(t, mask|1<<i, seen)
		}
	}
}

// tally adds up the courses of one order over the patients. A cause that is not settled counts with all readings, which
// were taken in vain.
type tally struct {
	name                 string
	n, readings, minutes float64
	settled, right       float64
	stated, variance     float64 // of the settled: the sum of what was stated, its binomial variance
}

func (a *tally) add(c treatment) {
	a.n++
	a.readings += float64(c.readings)
	a.minutes += c.minutes
	if !c.last.settled {
		return
	}
	a.settled++
	a.stated += c.last.stated
	a.variance += c.last.stated * (1 - c.last.stated)
	if c.last.right {
		a.right++
	}
}

func (a *tally) print() {
	fmt.Printf("%-26s %8.0f %8.2f %8.1f %9.1f %% %8.1f %% %8.1f ± %.1f %%\n", a.name, a.n, a.readings/a.n, a.minutes/a.n,
		100*a.settled/a.n, 100*a.right/max(a.settled, 1), 100*a.stated/max(a.settled, 1), 100*math.Sqrt(a.variance)/max(a.settled, 1))
}

// perMinute is how the program ranks readings.
func perMinute(bits, minutes float64) float64 { return bits / minutes }

// TestAdvice is the study behind `make advice`: ADVICE_BOARDS boards from ADVICE_SEED on, all causes alike, the advice
// against every fixed order of the readings. It prints the table, and fails where some fixed order needs fewer readings
// than the advice, or where causes stated as settled are right less often than stated.
func TestAdvice(t *testing.T) {
	boards, _ := strconv.Atoi(os.Getenv("ADVICE_BOARDS"))
	if boards == 0 {
		t.Skip("a long study; ADVICE_BOARDS says of how many boards")
	}
	seed, _ := strconv.ParseUint(os.Getenv("ADVICE_SEED"), 10, 64)
	rng := rand.New(rand.NewPCG(seed, 26))
	var patients []*patient
	for range boards {
		p := admit(rng)
		p.explore(t, 0, map[int]bool{})
		patients = append(patients, p)
	}
	of := func(name string, f func(p *patient) treatment) *tally {
		a := &tally{name: name}
		for _, p := range patients {
			a.add(f(p))
		}
		return a
	}
	advice := of("advice, bits a minute", func(p *patient) treatment { return p.advised(t, perMinute) })
	most := of("most bits", func(p *patient) treatment { return p.advised(t, func(bits, _ float64) float64 { return bits }) })
	seeing := of("advice with looks", func(p *patient) treatment { return p.seeing(t) })
	hindsight := of("in hindsight", func(p *patient) treatment { return p.hindsight(t) })
	all := make([]*tally, 0, 40320)
	for order := range permutations(len(menu)) {
		name := ""
		for _, i := range order {
			name += fmt.Sprint(i + 1)
		}
		all = append(all, of(name, func(p *patient) treatment { return p.fixed(t, order) }))
	}
	slices.SortFunc(all, func(a, b *tally) int { return cmp.Compare(a.readings, b.readings) })
	quick := slices.MinFunc(all, func(a, b *tally) int { return cmp.Compare(a.minutes, b.minutes) })
	fmt.Printf("%d boards, %d fixed orders of %d readings\n", boards, len(all), len(menu))
	fmt.Printf("%-26s %8s %8s %8s %11s %10s %16s\n", "order", "boards", "readings", "minutes", "settled", "right", "as stated")
	for _, row := range []struct {
		name string
		a    *tally
	}{{"", advice}, {"", seeing}, {"looks first, ", of(all[0].name, func(p *patient) treatment { return p.looksFirst(t, all[0].name) })}, {"", most}, {"best fixed, ", all[0]}, {"quickest fixed, ", quick}, {"median fixed, ", all[len(all)/2]}, {"worst fixed, ", all[len(all)-1]}, {"", hindsight}} {
		named := *row.a
		named.name = row.name + named.name
		named.print()
	}
	fmt.Println("A cause that is not settled counts with all readings. Right: of the settled ones, to be held against what was")
	fmt.Println("stated of them. In hindsight: the fewest readings that settle it, which no order can know beforehand.")
	for i, m := range menu {
		fmt.Printf("%d %s; ", i+1, strings.TrimSpace(m.kind+" "+m.part))
	}
	fmt.Println()
	byCause := map[string]*tally{}
	for _, p := range patients {
		key, _, _ := strings.Cut(p.truth, " ")
		if byCause[key] == nil {
			byCause[key] = &tally{name: "advice, " + key}
		}
		byCause[key].add(p.advised(t, perMinute))
	}
	for _, key := range slices.Sorted(mapKeys(byCause)) {
		byCause[key].print()
	}
	promised(t, patients)
	if advice.readings >= all[0].readings {
		t.Errorf("the advice needs %.2f readings, a fixed order %.2f", advice.readings/advice.n, all[0].readings/advice.n)
	}
	if seeing.minutes >= advice.minutes {
		t.Errorf("with looks the advice takes %.1f minutes, without %.1f", seeing.minutes/seeing.n, advice.minutes/advice.n)
	}
	for _, a := range []*tally{advice, seeing} {
		if short := a.stated - a.right; short > 4*math.Sqrt(a.variance)+0.5 {
			t.Errorf("%s: %.0f of %.0f settled causes are right, stated %.1f ± %.1f", a.name, a.right, a.settled, a.stated, math.Sqrt(a.variance))
		}
	}
	spoiled(t, patients)
}

// spoiled counts the advised steps after which a right answer was wrong, with what was stated for it: a step never spoils an
// answer that was settled, since none is advised then, and one that was merely the likeliest no more often than it was stated
// to be wrong.
func spoiled(t *testing.T, patients []*patient) {
	steps, lost, settled, stated := 0, 0, 0, 0.0
	for _, p := range patients {
		last := outcome{}
		p.follow(t, func(mask, taken int) int {
			now := p.after(t, mask)
			if taken > 0 && last.right {
				steps++
				stated += 1 - last.stated
				if !now.right {
					lost++
				}
			}
			last = now
			bits := p.sighted(t, mask)
			at := 0
			for i := range bits {
				if mask>>i&1 == 0 && (mask>>at&1 == 1 || perMinute(bits[i], p.minutesOf(i)) > perMinute(bits[at], p.minutesOf(at))) {
					at = i
				}
			}
			return at
		})
		if end := p.seeing(t); last.right && end.last.settled && !end.last.right {
			settled++
		}
	}
	fmt.Printf("%d advised steps from a right answer: %d made it another, of %.1f that could; %d of them settled on a wrong one\n", steps, lost, stated, settled)
	if float64(lost) > stated+4*math.Sqrt(stated)+1 {
		t.Errorf("%d right answers were spoiled, %.1f could be", lost, stated)
	}
}

func mapKeys[V any](m map[string]V) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// promised compares the information that each first reading promises with the entropy that it took away.
func promised(t *testing.T, patients []*patient) {
	var said, got [8]float64
	n := 0.0
	for _, p := range patients {
		before := p.after(t, 0)
		if before.settled {
			continue
		}
		n++
		bits := p.ranked(t, 0)
		for i := range menu {
			said[i] += bits[i]
			got[i] += before.entropy - p.after(t, 1<<i).entropy
		}
	}
	fmt.Printf("%-22s %9s %9s\n", "first reading", "promised", "got, bits")
	for i, m := range menu {
		fmt.Printf("%-22s %9.2f %9.2f\n", strings.TrimSpace(m.kind+" "+m.part), said[i]/max(n, 1), got[i]/max(n, 1))
	}
}

// permutations yields every order of 0 … n-1 (Heap's algorithm); the slice is reused.
func permutations(n int) func(yield func([]int) bool) {
	return func(yield func([]int) bool) {
		a, count := make([]int, n), make([]int, n)
		for i := range a {
			a[i] = i
		}
		if !yield(a) {
			return
		}
		for i := 0; i < n; {
			if count[i] < i {
				k := 0
				if i%2 == 1 {
					k = count[i]
				}
				a[k], a[i] = a[i], a[k]
				if !yield(a) {
					return
				}
				count[i]++
				i = 0
			} else {
				count[i] = 0
				i++
			}
		}
	}
}

package text

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/reporttest"
	"offbeat/fit"
)

func written(t *testing.T, b *document.Basis, s Style) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Write(&out, document.Of(b), s); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func found(f *compare.Finding) *document.Basis {
	return &document.Basis{Finding: f, Command: "offbeat reconcile lamp.toml lamp-2.csv"}
}

func TestFinding(t *testing.T) {
	reporttest.Golden(t, "finding.txt", written(t, found(reporttest.Finding()), Style{}))
	reporttest.Golden(t, "finding-narrow.txt", written(t, found(reporttest.Finding()), Style{Width: 60}))
	reporttest.Golden(t, "finding-explain.txt", written(t, found(reporttest.Finding()), Style{Width: 120, Explain: true}))
}

// A single pulse has a high time alone; a finding without a target, a next reading or warnings says so.
func TestSinglePulse(t *testing.T) {
	f := reporttest.Finding()
	f.Measured = compare.Times[compare.Measured]{High: f.Measured.High}
	f.Predicted = compare.Times[compare.Predicted]{High: f.Predicted.High}
	f.Verdict = compare.Verdict{Result: "no target"}
	f.Next, f.Warnings, f.Captures, f.Confounded, f.Groups = nil, nil, nil, nil, nil
	reporttest.Golden(t, "pulse.txt", written(t, found(f), Style{}))
}

func TestLatch(t *testing.T) {
	reporttest.Golden(t, "latch.txt", written(t, found(reporttest.Broken()), Style{}))
	reporttest.Golden(t, "latch-narrow.txt", written(t, found(reporttest.Broken()), Style{Width: 50}))
}

// Colour is paint alone: without it the text is the same, to the letter.
func TestColourIsNeverTheOnlySign(t *testing.T) {
	colour := written(t, found(reporttest.Finding()), Style{Color: true})
	stripped := string(colour)
	for _, a := range []string{bold, red, green, yellow} {
		if !strings.Contains(stripped, "\x1b["+a+"m") && a != yellow {
			t.Errorf("attribute %s does not occur", a)
		}
		stripped = strings.ReplaceAll(stripped, "\x1b["+a+"m", "")
	}
	stripped = strings.ReplaceAll(stripped, "\x1b[0m", "")
	if want := string(written(t, found(reporttest.Finding()), Style{})); stripped != want {
		t.Errorf("without colours\n%s\nwant\n%s", stripped, want)
	}
}

// plain takes the paint off.
func plain(text string) string {
	return regexp.MustCompile("\x1b\\[[0-9]*m").ReplaceAllString(text, "")
}

// A table that is too wide loses the columns that may go, then breaks its heads, then its widest column of words, then puts
// what has no room below.
func TestTableIsSqueezed(t *testing.T) {
	columns := []document.Column{{}, {Head: "how far it went", Number: true}, {Head: "seldom", Drop: 1}, {Head: "why"}, {Head: "share", Number: true}}
	row := func(texts ...string) []document.Cell {
		out := make([]document.Cell, len(texts))
		for i, s := range texts {
			out[i].Text = s
		}
		return out
	}
	rows := [][]document.Cell{row("R1", "12 m", "x", "because of the wind and the tide", "30 %"), row("R2", "9 m", "y", "no wind", "4.1 %")}
	for width, want := range map[int]string{
		80: "      how far it went  seldom  why                               share\n  R1             12 m  x       because of the wind and the tide   30 %\n  R2              9 m  y       no wind                           4.1 %\n",
		62: "      how far  seldom  why                               share\n      it went\n  R1     12 m  x       because of the wind and the tide   30 %\n  R2      9 m  y       no wind                           4.1 %\n",
		52: "        how  why                               share\n        far\n         it\n       went\n  R1   12 m  because of the wind and the tide   30 %\n  R2    9 m  no wind                           4.1 %\n",
		40: "       how  why                    share\n       far\n        it\n      went\n  R1  12 m  because of the wind     30 %\n            and the tide\n  R2   9 m  no wind                4.1 %\n",
	} {
		var b bytes.Buffer
		p := &printer{bufio.NewWriter(&b), Style{Width: width}}
		p.table("", &document.Table{Columns: columns, Rows: rows})
		p.w.Flush()
		if b.String() != want {
			t.Errorf("width %d:\n%s\nwant\n%s", width, b.String(), want)
		}
	}
}

// A command that is too long goes on in the next line as a shell lets it, a flag beside its value.
func TestCommand(t *testing.T) {
	got := strings.Join(Command(`offbeat reconcile lamp.toml old.csv --with "R2 || MEASURED" NEW.csv`, "     ", 44), "\n")
	if want := "     offbeat reconcile lamp.toml old.csv \\\n       --with \"R2 || MEASURED\" NEW.csv"; got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestMeasured(t *testing.T) {
	f := reporttest.Finding()
	m := &fit.Measurement{Source: "lamp-2.csv", Cycles: 10, High: fit.Estimate{Value: 4.8796e-3, Uncertainty: 2.1e-6, Count: 11}, Low: fit.Estimate{Value: 4.0782e-3, Uncertainty: 2.1e-6, Count: 10},
		Levels: fit.Levels{Low: 0.08, High: 3.6, Reference: 1.84, Noise: 0.014}, Faults: fit.Faults{Partial: 2, Runts: 1, Glitches: 3, Dropped: 1, Unknown: 4},
		Budget: []fit.Term{{Name: "white edge noise", Kind: "A", Distribution: "normal", High: 444e-9, Low: 444e-9, Period: 57e-9}}, Notes: []string{"poorly sampled"}}
	c := f.Captures[0]
	c.Measured = &f.Measured
	second := c
	second.Record = 2
	second.Measured = &compare.Times[compare.Measured]{High: f.Measured.High}
	single := *m
	single.Low = fit.Estimate{}
	both := &document.Basis{Captures: []compare.Capture{c, second}, Measurements: []*fit.Measurement{m, &single}, Warnings: f.Warnings}
	reporttest.Golden(t, "measured.txt", written(t, both, Style{Explain: true}))
	reporttest.Golden(t, "measured-lines.txt", []byte(document.Of(both).Short+"\n"))
}

func TestPredicted(t *testing.T) {
	for name, one := range map[string]bool{"predicted.txt": false, "predicted-pulse.txt": true} {
		d, r := reporttest.Prediction(one)
		if one {
			d.Title = ""
		}
		reporttest.Golden(t, name, written(t, &document.Basis{Design: d, Prediction: r, Warnings: []string{"timer family: not given, taken as bipolar"}}, Style{Explain: true}))
	}
}

// The bar, drawn by hand: 2.5 tolerances are 15 columns, so a tolerance is 6.
func TestToleranceBar(t *testing.T) {
	for _, c := range []struct {
		low, value, high float64
		want             string
	}{
		{0.95, 1.00, 1.05, "         [--===o===--]         "},
		{1.16, 1.18, 1.20, "         [-----|-----]   =o=   "},
		{0.91, 0.96, 1.10, "         [===o=|=====]         "},
		{1.00, 1.40, 1.60, "         [-----|=====]========>"},
		{0.01, 0.02, 0.03, "<        [-----|-----]         "},
	} {
		q := compare.Part{Nominal: 1, Limits: [2]float64{0.9, 1.1}, Value: c.value, Interval95: [2]float64{c.low, c.high}}
		if got := toleranceBar(&q, 31); got != c.want {
			t.Errorf("%v %v %v\ngot  %q\nwant %q", c.low, c.value, c.high, got, c.want)
		}
	}
}

func TestShareBar(t *testing.T) {
	if got := shareBar(0.004, 20) + "|" + shareBar(0, 20) + "|" + shareBar(1, 20); got != ".||####################" {
		t.Error(got)
	}
}

// full is a device with no room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestWriteErrorsAreReturned(t *testing.T) {
	if err := Write(full{}, document.Of(found(reporttest.Finding())), Style{}); !errors.Is(err, io.ErrShortWrite) {
		t.Error(err)
	}
}

// Each section of a lot says its main thing, at every width, and colour is never the only sign.
func TestLot(t *testing.T) {
	d, _, r, _ := reporttest.LotBench(t)
	b := &document.Basis{Design: d, Lot: r}
	c1 := r.Parts[2].Shift
	mean := fmt.Sprintf("−%.1f ± %.1f %%", -100*math.Expm1(c1.Value), 100*c1.Uncertainty*math.Exp(c1.Value))
	for _, width := range []int{60, 100, 200} {
		text := string(written(t, b, Style{Width: width}))
		words := strings.Join(strings.Fields(text), " ")
		for _, want := range []string{
			"The lot is not accepted: 2 of 2 lots rejected", "30 boards: 1 pass, 28 fail, 1 not readable.", "AQL 1 %, n = 13, Ac 0, Re 1", mean,
			"Lamp 20", "lamp 9: lamp.csv:17:3: cut short", "REPEATABILITY AND REPRODUCIBILITY", "LOT BY LOT", "week 1 reject", "CONTROL CHARTS", "COMMON TO THE LOT",
		} {
			if !strings.Contains(strings.ToLower(words), strings.ToLower(want)) {
				t.Errorf("width %d lacks %q:\n%s", width, want, text)
			}
		}
		if bare := plain(string(written(t, b, Style{Width: width, Color: true}))); bare != text {
			t.Errorf("width %d: colour changes the words", width)
		}
	}
}

func TestLedger(t *testing.T) {
	l := &report.Ledger{Visits: reporttest.Visits(), Count: map[string]int{"pass": 2, "": 1}}
	l.Drift, _ = ledger.Drifts(l.Visits)
	text := string(written(t, &document.Basis{Ledger: l}, Style{}))
	for _, want := range []string{"3 results: 2 pass, 0 fail, 0 undecided, 1 without a verdict", "2026-01-31 08:00  lamp 7", "C1 out of tolerance (90 %)", "not readable", "moved", "+1.000 ± 0.010 %"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q:\n%s", want, text)
		}
	}
}

func TestLive(t *testing.T) {
	p := reporttest.LampBasis(t)
	sh := reporttest.HeardSnapshot(p.Finding, p.Design)
	show := func(s Style) string {
		var b strings.Builder
		if err := Write(&b, document.Live(sh, "listening to a port with a rather long name", "second line"), s); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	text := show(Style{Width: 100})
	for _, want := range []string{"listening to a port", "second line", "since the start", "−1.2000 ± 0.0020 %", "PARTS", p.Finding.Parts[2].Name, p.Finding.Finding[:30], "MARKS", "33000 lines heard"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if strings.Contains(text, "\x1b") || !strings.Contains(show(Style{Width: 100, Color: true}), "\x1b[1mlistening") {
		t.Error("colour where there should be none, or none where there should be some")
	}
	sh.Now, sh.Finding, sh.Failed = nil, nil, errors.New("the circuit does not run")
	if text := show(Style{Width: 100}); !strings.Contains(text, "No whole cycles yet.") || !strings.Contains(text, "No back-solve: the circuit does not run") {
		t.Errorf("of nothing:\n%s", text)
	}
	if line := document.LiveLine(sh); line != "120.0 s: no whole cycles yet; "+document.Met(&sh.Stream) {
		t.Errorf("%q", line)
	}
}

// A wide character takes two columns (Unicode Standard Annex 11), an ambiguous one and a combined one take one, paint none.
func TestVisible(t *testing.T) {
	for text, want := range map[string]int{"": 0, "10.0 kΩ ± 1 %": 13, "灯台": 4, "e\u0301": 1, "\x1b[1;31mR1\x1b[0m": 2} {
		if got := visible(text); got != want {
			t.Errorf("%q takes %d columns, want %d", text, got, want)
		}
	}
}

// A number stays with its unit and an interval is one thing, in any width that holds it; nothing but blanks changes.
func TestNumbersAreNotBroken(t *testing.T) {
	const said = "R1 (3.532 … 4.405) ms, 22.41 … 55.04 %, 95 % within 4.7 kΩ ± 1 %, × 22, < 0.1 %, prior odds 1 : 1.5 (3 min, tells 41 %)."
	for width := 24; width < 90; width++ {
		lines := Wrap(said, width)
		if got := strings.Join(lines, " "); got != said {
			t.Fatalf("%d: %q", width, got)
		}
		for _, l := range lines {
			if visible(l) > width || strings.HasSuffix(l, "…") || strings.HasPrefix(l, "%") || strings.HasPrefix(l, "kΩ") || strings.HasSuffix(l, "±") || strings.HasSuffix(l, "<") || strings.HasSuffix(l, ":") {
				t.Errorf("%d columns: %q", width, l)
			}
		}
	}
}

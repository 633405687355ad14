package reporttest_test

import (
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
	"offbeat/compare/report/text"
	"offbeat/fit"
)

func asText(t *testing.T, b *document.Basis, s text.Style) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := text.Write(&out, document.Of(b), s); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func found(f *compare.Finding) *document.Basis {
	return &document.Basis{Finding: f, Command: "offbeat reconcile lamp.toml lamp-2.csv"}
}

func TestFinding(t *testing.T) {
	reporttest.Golden(t, "finding.txt", asText(t, found(reporttest.Finding()), text.Style{}))
	reporttest.Golden(t, "finding-narrow.txt", asText(t, found(reporttest.Finding()), text.Style{Width: 60}))
	reporttest.Golden(t, "finding-explain.txt", asText(t, found(reporttest.Finding()), text.Style{Width: 120, Explain: true}))
}

// A single pulse has a high time alone; a finding without a target, a next reading or warnings says so.
func TestSinglePulse(t *testing.T) {
	f := reporttest.Finding()
	f.Measured = compare.Times[compare.Measured]{High: f.Measured.High}
	f.Predicted = compare.Times[compare.Predicted]{High: f.Predicted.High}
	f.Verdict = compare.Verdict{Result: "no target"}
	f.Next, f.Warnings, f.Captures, f.Confounded, f.Groups = nil, nil, nil, nil, nil
	reporttest.Golden(t, "pulse.txt", asText(t, found(f), text.Style{}))
}

func TestLatch(t *testing.T) {
	reporttest.Golden(t, "latch.txt", asText(t, found(reporttest.Broken()), text.Style{}))
	reporttest.Golden(t, "latch-narrow.txt", asText(t, found(reporttest.Broken()), text.Style{Width: 50}))
}

// Colour is paint alone: without it the text is the same, to the letter.
func TestColourIsNeverTheOnlySign(t *testing.T) {
	colour := asText(t, found(reporttest.Finding()), text.Style{Color: true})
	const yellow = "33" // which no part of this finding has
	stripped := string(colour)
	for _, a := range []string{"1", "31", "32", yellow} { // ECMA-48 8.3.117, SGR: bold, red, green
		if !strings.Contains(stripped, "\x1b["+a+"m") && a != yellow {
			t.Errorf("attribute %s does not occur", a)
		}
		stripped = strings.ReplaceAll(stripped, "\x1b["+a+"m", "")
	}
	stripped = strings.ReplaceAll(stripped, "\x1b[0m", "")
	if want := string(asText(t, found(reporttest.Finding()), text.Style{})); stripped != want {
		t.Errorf("without colours\n%s\nwant\n%s", stripped, want)
	}
}

// plain takes the paint off.
func plain(text string) string {
	return regexp.MustCompile("\x1b\\[[0-9]*m").ReplaceAllString(text, "")
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
	reporttest.Golden(t, "measured.txt", asText(t, both, text.Style{Explain: true}))
	reporttest.Golden(t, "measured-lines.txt", []byte(document.Of(both).Short+"\n"))
}

func TestPredicted(t *testing.T) {
	for name, one := range map[string]bool{"predicted.txt": false, "predicted-pulse.txt": true} {
		d, r := reporttest.Prediction(one)
		if one {
			d.Title = ""
		}
		reporttest.Golden(t, name, asText(t, &document.Basis{Design: d, Prediction: r, Warnings: []string{"timer family: not given, taken as bipolar"}}, text.Style{Explain: true}))
	}
}

// full is a device with no room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestWriteErrorsAreReturned(t *testing.T) {
	if err := text.Write(full{}, document.Of(found(reporttest.Finding())), text.Style{}); !errors.Is(err, io.ErrShortWrite) {
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
		got := string(asText(t, b, text.Style{Width: width}))
		words := strings.Join(strings.Fields(got), " ")
		for _, want := range []string{
			"The lot is not accepted: 2 of 2 lots rejected", "30 boards: 1 pass, 28 fail, 1 not readable.", "AQL 1 %, n = 13, Ac 0, Re 1", mean,
			"Lamp 20", "lamp 9: lamp.csv:17:3: cut short", "REPEATABILITY AND REPRODUCIBILITY", "LOT BY LOT", "week 1 reject", "CONTROL CHARTS", "COMMON TO THE LOT",
		} {
			if !strings.Contains(strings.ToLower(words), strings.ToLower(want)) {
				t.Errorf("width %d lacks %q:\n%s", width, want, got)
			}
		}
		if bare := plain(string(asText(t, b, text.Style{Width: width, Color: true}))); bare != got {
			t.Errorf("width %d: colour changes the words", width)
		}
	}
}

func TestLedger(t *testing.T) {
	l := &report.Ledger{Visits: reporttest.Visits(), Count: map[string]int{"pass": 2, "": 1}}
	l.Drift, _ = ledger.Drifts(l.Visits)
	got := string(asText(t, &document.Basis{Ledger: l}, text.Style{}))
	for _, want := range []string{"3 results: 2 pass, 0 fail, 0 undecided, 1 without a verdict", "2026-01-31 08:00  lamp 7", "C1 out of tolerance (90 %)", "not readable", "moved", "+1.000 ± 0.010 %"} {
		if !strings.Contains(got, want) {
			t.Errorf("the text lacks %q:\n%s", want, got)
		}
	}
}

func TestLive(t *testing.T) {
	p := reporttest.LampBasis(t)
	sh := reporttest.HeardSnapshot(p.Finding, p.Design)
	show := func(s text.Style) string {
		var b strings.Builder
		if err := text.Write(&b, document.Live(sh, "listening to a port with a rather long name", "second line"), s); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	got := show(text.Style{Width: 100})
	for _, want := range []string{"listening to a port", "second line", "since the start", "−1.2000 ± 0.0020 %", "PARTS", p.Finding.Parts[2].Name, p.Finding.Finding[:30], "MARKS", "33000 lines heard"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	if strings.Contains(got, "\x1b") || !strings.Contains(show(text.Style{Width: 100, Color: true}), "\x1b[1mlistening") {
		t.Error("colour where there should be none, or none where there should be some")
	}
	sh.Now, sh.Finding, sh.Failed = nil, nil, errors.New("the circuit does not run")
	if got := show(text.Style{Width: 100}); !strings.Contains(got, "No whole cycles yet.") || !strings.Contains(got, "No back-solve: the circuit does not run") {
		t.Errorf("of nothing:\n%s", got)
	}
	if line := document.LiveLine(sh); line != "120.0 s: no whole cycles yet; "+document.Met(&sh.Stream) {
		t.Errorf("%q", line)
	}
}

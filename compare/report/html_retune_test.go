package report

import (
	"fmt"
	"html"
	"regexp"
	"strings"
	"testing"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/retune"
	"offbeat/fit"
)

// tuned is the lamp's page with proposals for two wanted quantities out of a stock.
func tuned(t testing.TB) Page {
	p := lampPage(t)
	d := *p.Design
	d.Targets = append(append([]fit.Target{}, d.Targets...), fit.Target{Quantity: "duty_factor", Value: 0.545, Low: 0.52, High: 0.57})
	p.Design = &d
	var err error
	p.Proposals, err = retune.Run(&d, p.Evidence, retune.Options{Count: 20, Stock: []retune.Item{{Value: 22e3, Minus: 0.01, Plus: 0.01}, {Value: 18e3, Minus: 0.01, Plus: 0.01}, {Kind: fit.Capacitor, Value: 100e-9, Minus: 0.1, Plus: 0.1}}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// bare is a page's text: entities read, tags taken out, blanks made one.
func bare(t testing.TB, p Page) string {
	t.Helper()
	var b strings.Builder
	if err := HTML(&b, p); err != nil {
		t.Fatal(err)
	}
	text := html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(b.String(), " "))
	return strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
}

// Every proposal stands in the page with its chance, its stock, its caution, and each predicted quantity with its range.
func TestProposalsPage(t *testing.T) {
	p := tuned(t)
	text := bare(t, p)
	if len(p.Proposals) < 3 {
		t.Fatalf("only %d proposals: the test says too little", len(p.Proposals))
	}
	stocks := map[string]int{}
	for i := range p.Proposals {
		q := &p.Proposals[i]
		stocks[stockText(q)]++
		line := fmt.Sprintf("%d. %s %s %s", i+1, ChangeText(q), Percent(q.InTarget), stockText(q))
		for k, b := range pick(&q.Predicted) {
			if b == nil {
				t.Fatalf("proposal %d predicts no %s", i+1, timeRows[k].name)
			}
			line += " " + among(b.Value, b.Low, b.High, timeRows[k].unit) + " " + span(b.Low, b.High, timeRows[k].unit)
		}
		if line = strings.Join(strings.Fields(line), " "); !strings.Contains(text, line) {
			t.Errorf("the page lacks %q", line)
		}
		if !strings.Contains(text, q.Caution) {
			t.Errorf("the page lacks the caution %q", q.Caution)
		}
	}
	if stocks["in stock"] == 0 || stocks["not all in stock"] == 0 {
		t.Errorf("stock says %v; the test wants proposals of both kinds", stocks)
	}
	for _, want := range []string{"What to fit", ChangeText(&p.Proposals[0]) + " (on target with", "Frequency after the change", "Duty factor after the change"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(text, "Next reading") {
		t.Error("a page about what to fit advises a reading")
	}
}

// Asked in vain is something else than not asked.
func TestPageWithoutProposals(t *testing.T) {
	p := lampPage(t)
	if text := bare(t, p); strings.Contains(text, "What to fit") {
		t.Error("nobody asked what to fit")
	}
	p.Proposals = []compare.Proposal{}
	if text := bare(t, p); !strings.Contains(text, noProposal) || strings.Contains(text, "after the change") {
		t.Error("the page does not say that nothing helps")
	}
}

func TestStockText(t *testing.T) {
	yes, no := true, false
	some := []compare.Change{{Part: "R2", Fit: "47k"}}
	for _, c := range []struct {
		q    compare.Proposal
		want string
	}{
		{compare.Proposal{Changes: some}, ""},
		{compare.Proposal{Changes: some, InStock: &yes}, "in stock"},
		{compare.Proposal{Changes: some, InStock: &no}, "not all in stock"},
		{compare.Proposal{InStock: &yes}, ""}, // leaving the board alone takes no part
	} {
		if got := stockText(&c.q); got != c.want {
			t.Errorf("%+v: %q, want %q", c.q, got, c.want)
		}
	}
}

// A deviation has the digits that its uncertainty warrants, hundredths of a per cent at most; by hand.
func TestDeviation(t *testing.T) {
	for _, c := range []struct {
		x, u, nominal float64
		want          string
	}{
		{4.8798e-3, 1.5e-6, 3.965e-3, "+23.07 %"},
		{5.83e-3, 0.22e-3, 4.7e-3, "+24.0 %"}, // 0.22/4.7 is 4.7 %: the tenth is its second digit
		{0.2, 0.046, 0.2128, "\u22126 %"},     // 22 %
		{2.14, 0.12, 0.2128, "+906 %"},
		{30, 0.12, 2, "× 15"},
		{1, 0, 1, "0.00 %"},
	} {
		if got := deviation(c.x, c.u, c.nominal); got != c.want {
			t.Errorf("%v ± %v against %v: %q, want %q", c.x, c.u, c.nominal, got, c.want)
		}
	}
}

// A number does not part from its unit at the end of a line; a count and its noun may.
func TestTied(t *testing.T) {
	const n = "\u00a0"
	for in, want := range map[string]string{
		"C1 about 122.7 nF, 23 % above its nominal 100 nF (78 %).": "C1 about 122.7" + n + "nF, 23" + n + "% above its nominal 100" + n + "nF (78" + n + "%).",
		"(4.88 ± 0.01) ms (sure)":                                  "(4.88" + n + "±" + n + "0.01)" + n + "ms (sure)",
		"R1 10 kΩ ± 1 %":                                           "R1 10" + n + "kΩ" + n + "±" + n + "1" + n + "%",
		"3 samples of 2 sets, 5 V":                                 "3 samples of 2 sets, 5" + n + "V",
		"5 % 3 % 1 s 2 µs 7 MHz 4 Hz":                              "5" + n + "% 3" + n + "% 1" + n + "s 2" + n + "µs 7" + n + "MHz 4" + n + "Hz",
	} {
		if got := tied(in); got != want {
			t.Errorf("%q\ngot  %q\nwant %q", in, got, want)
		}
	}
}

// A column that is empty in every row is left out; the first never is.
func TestTrim(t *testing.T) {
	x := table{Heads: []head{{"a", false}, {"b", true}, {"c", true}}, Rows: [][]entry{{{Text: ""}, {}, {More: "x"}}, {{Text: ""}, {}, {}}}}
	x.trim()
	if len(x.Heads) != 2 || x.Heads[1].Text != "c" || len(x.Rows[0]) != 2 || x.Rows[0][1].More != "x" {
		t.Errorf("%+v", x)
	}
}

// A value stands beside its limits with their digits.
func TestAmong(t *testing.T) {
	if got := among(7.2696e-3, 6.478e-3, 8.077e-3, quantity.Second) + ", " + among(1e4, 9900, 10430, quantity.Ohm); got != "7.270 ms, 10.00 kΩ" {
		t.Error(got)
	}
}

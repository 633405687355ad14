package text

import (
	"bufio"
	"bytes"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/report/document"
)

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

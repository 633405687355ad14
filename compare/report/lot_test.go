package report

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"offbeat/acquire/manifest"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// lotBench is a lot of the harbour's lamps: the capacitors' reel 16 % low, one board with R2 a fifth high, one that
// could not be judged, two lots, every board captured twice. It is made once for all tests, which only read it.
func lotBench(t testing.TB) (*fit.Design, []*lot.Outcome, *lot.Report, []lot.Row) {
	t.Helper()
	b, err := madeLot()
	if err != nil {
		t.Fatal(err)
	}
	return b.design, b.outcomes, b.report, b.rows
}

type benchLot struct {
	design   *fit.Design
	outcomes []*lot.Outcome
	report   *lot.Report
	rows     []lot.Row
}

var madeLot = sync.OnceValues(func() (*benchLot, error) {
	d := lamp()
	d.Family = fit.Ideal
	var entries []manifest.Entry
	for i := range 30 {
		for k := range 2 {
			entries = append(entries, manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Lot: fmt.Sprint("week ", 1+i/15), Station: "quay", Capture: fmt.Sprintf("lamp-%d.csv", k)})
		}
	}
	work := func(_ context.Context, b *lot.Board) (*compare.Finding, []lot.Measured, error) {
		var i int
		fmt.Sscanf(b.Name, "lamp %d", &i)
		if i == 9 {
			return nil, nil, errors.New("lamp.csv:17:3: cut short <&>")
		}
		r := rand.New(rand.NewPCG(8, uint64(i)))
		n := fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3 * (1 + 0.003*r.NormFloat64()), R2: 47e3 * (1 + 0.003*r.NormFloat64()), C: 84e-9 * (1 + 0.01*r.NormFloat64())}
		if i == 20 {
			n.R2 *= 1.2
		}
		high, low, err := fittest.Integrate(n)
		if err != nil {
			return nil, nil, err
		}
		var each []lot.Measured
		var ms []*fit.Measurement
		for k := range b.Captures {
			e := func(v float64) fit.Estimate {
				return fit.Estimate{Value: v * (1 + 1e-4*r.NormFloat64()), Uncertainty: 1e-4 * v, Count: 60}
			}
			m := &fit.Measurement{Source: "lamp.csv", High: e(high), Low: e(low), Cycles: 60}
			each, ms = append(each, lot.Measured{Entry: &b.Captures[k], Measurement: m}), append(ms, m)
		}
		f, err := reconcile.Run(b.Design(d), ms)
		return f, each, err
	}
	c := lot.NewCollector(d)
	var outcomes []*lot.Outcome
	err := lot.Run(context.Background(), lot.Group(entries), work, lot.RunOptions{}, func(o *lot.Outcome) error {
		c.Add(o)
		outcomes = append(outcomes, o)
		return nil
	})
	if err != nil {
		return nil, err
	}
	r, err := c.Report(lot.Options{})
	return &benchLot{d, outcomes, r, c.Rows()}, err
})

// The streamed document is one JSON document with the contract's keys (DESIGN 12), whatever a board's name holds.
func TestLotJSON(t *testing.T) {
	_, outcomes, r, _ := lotBench(t)
	var b bytes.Buffer
	s := NewLotStream(&b)
	for _, o := range outcomes {
		if err := s.Board(o); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(r); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Schema int
		Boards []struct {
			Board    string
			Verdict  map[string]any
			Measured map[string]any
			Causes   []map[string]any
		}
		Acceptance map[string]any
		Capability map[string]map[string]any
		Parts      []struct {
			Name          string
			Shift, Spread map[string]any
		}
		Outliers []string
		Failed   []map[string]string
	}
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatalf("%v\n%s", err, b.String())
	}
	if doc.Schema != 1 || len(doc.Boards) != 29 || doc.Boards[0].Board != "lamp 1" || doc.Boards[0].Verdict["result"] != "fail" || doc.Boards[0].Measured["frequency"] == nil || len(doc.Boards[0].Causes) == 0 {
		t.Errorf("boards: %d %+v", len(doc.Boards), doc.Boards[0])
	}
	for _, k := range []string{"result", "sample_size", "nonconforming", "accept_number", "reject_number"} {
		if doc.Acceptance[k] == nil {
			t.Errorf("acceptance has no %s", k)
		}
	}
	for _, k := range []string{"cp", "cpk", "pp", "ppk"} {
		if _, ok := doc.Capability["frequency"][k]; !ok {
			t.Errorf("capability has no %s", k)
		}
	}
	if len(doc.Parts) != 3 || doc.Parts[2].Name != "C1" || doc.Parts[2].Shift["value"] == nil || doc.Parts[2].Spread["standard_uncertainty"] == nil {
		t.Errorf("%+v", doc.Parts)
	}
	if len(doc.Outliers) != 1 || doc.Outliers[0] != "lamp 20" || len(doc.Failed) != 1 || doc.Failed[0]["board"] != "lamp 9" || !strings.Contains(doc.Failed[0]["error"], "<&>") {
		t.Errorf("%v %v", doc.Outliers, doc.Failed)
	}
	if n := strings.Count(b.String(), "\"schema\""); n != 1 {
		t.Errorf("schema stands %d times", n)
	}
}

func TestLotCSV(t *testing.T) {
	_, outcomes, _, _ := lotBench(t)
	var b bytes.Buffer
	table, err := NewLotTable(&b)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range outcomes {
		if err := table.Board(o); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 31 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	if strings.Join(rows[0][:3], ",") != "board,lot,verdict" || rows[1][2] != "fail" || rows[1][11] != "shifted" || rows[1][12] != "C1" {
		t.Errorf("%q\n%q", rows[0], rows[1])
	}
	if failed := rows[9]; failed[0] != "lamp 9" || failed[3] != "" || !strings.Contains(failed[14], "cut short") {
		t.Errorf("%q", failed)
	}
}

// Each section says its main thing, at every width, and colour is never the only sign.
func TestLotText(t *testing.T) {
	_, _, r, _ := lotBench(t)
	for _, width := range []int{60, 100, 200} {
		var plainText, coloured bytes.Buffer
		if err := LotText(&plainText, r, Style{Width: width}); err != nil {
			t.Fatal(err)
		}
		if err := LotText(&coloured, r, Style{Width: width, Color: true}); err != nil {
			t.Fatal(err)
		}
		words := strings.Join(strings.Fields(plainText.String()), " ")
		for _, want := range []string{
			"The lot is not accepted: 2 of 2 lots rejected", "30 boards: 1 pass, 28 fail, 1 not readable.", "AQL 1 %, n = 13, Ac 0, Re 1", "C1 −15.94 ± 0.54 %",
			"lamp 20,", "lamp 9: lamp.csv:17:3: cut short", "WHAT MEASURING ADDS", "LOT BY LOT", "week 1 reject", "CONTROL CHARTS",
		} {
			if !strings.Contains(words, want) {
				t.Errorf("width %d lacks %q:\n%s", width, want, plainText.String())
			}
		}
		if bare := regexp.MustCompile("\x1b\\[[0-9]*m").ReplaceAllString(coloured.String(), ""); strings.Join(strings.Fields(bare), " ") != words {
			t.Errorf("width %d: colour changes the words", width)
		}
	}
	var line bytes.Buffer
	if err := LotLine(&line, r); err != nil || strings.Count(line.String(), "\n") != 1 {
		t.Errorf("%q, %v", line.String(), err)
	}
}

// The page is whole, needs nothing from outside, and escapes what it was given.
func TestLotPage(t *testing.T) {
	d, _, r, rows := lotBench(t)
	var b bytes.Buffer
	if err := HTML(&b, Page{Design: d, Lot: r, Boards: rows}); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, want := range []string{"Operating characteristic", "Frequency of the boards", "C1 out of tolerance, about", "other causes, each below 1", "The reels", "Control charts", "cut short &lt;&amp;&gt;", "lamp 20", "</html>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, bad := range []string{"<script", "http://", "https://", "NaN", "Inf", "<&>"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if n := strings.Count(page, "<svg"); n != 4+len(r.Charts)+len(r.Gauge) || n != strings.Count(page, "<figure>") {
		t.Errorf("%d pictures", n)
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] {
			t.Errorf("the id %s stands twice", m[1])
		}
		ids[m[1]] = true
	}
}

// A lot without target, boards or spread has a page and a text too.
func TestBareLot(t *testing.T) {
	d := lamp()
	d.Targets = nil
	r, err := lot.NewCollector(d).Report(lot.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := errors.Join(LotText(&b, r, Style{}), HTML(&b, Page{Design: d, Lot: r}), NewLotStream(&b).Close(r)); err != nil {
		t.Error(err)
	}
}

// visits are three of one board; the third could not be judged.
func visits() []ledger.Visit {
	at := time.Date(2026, 1, 31, 8, 0, 0, 0, time.UTC)
	visit := func(years int, frequency float64) ledger.Visit {
		return ledger.Visit{Key: "k", Board: "lamp 7", Lot: "week 5", Verdict: "pass", At: at.AddDate(years, 0, 0), Cause: "shifted", CauseParts: []string{"C1"}, Probability: 0.9,
			Measured: compare.Times[compare.Measured]{Frequency: &compare.Measured{Value: frequency, Uncertainty: 0.01, Count: 60}}, Captures: []ledger.Capture{{Name: "lamp.csv", SHA256: "ab"}}}
	}
	return []ledger.Visit{visit(0, 138), visit(1, 138.0*1.01), {Board: "lamp 7", Error: "cut short", At: at.AddDate(2, 0, 0)}}
}

func TestLedgerForms(t *testing.T) {
	l := &Ledger{Schema: 1, Visits: visits()}
	l.Drift = ledger.Drifts(l.Visits)
	var text, document, table, line bytes.Buffer
	if err := errors.Join(LedgerText(&text, l, Style{}), JSON(&document, l), LedgerCSV(&table, l.Visits), LedgerLine(&line, l)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"3 results", "2026-01-31 08:00  lamp 7", "C1 out of tolerance (90 %)", "not readable", "moved", "+1.000 ± 0.010 %"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, text.String())
		}
	}
	var back Ledger
	if err := json.Unmarshal(document.Bytes(), &back); err != nil || len(back.Visits) != 3 || !back.Visits[1].At.Equal(l.Visits[1].At) || math.Abs(back.Drift[0].Changes[0].Value-0.01) > 1e-9 {
		t.Errorf("%v\n%s", err, document.String())
	}
	rows, err := csv.NewReader(&table).ReadAll()
	if err != nil || len(rows) != 4 || rows[1][0] != "2026-01-31T08:00:00Z" || rows[1][1] != "lamp 7" || rows[3][21] != "cut short" {
		t.Errorf("%v %q", err, rows)
	}
	if line.String() != "3 results: 2 pass, 0 fail, 0 undecided, 1 without a verdict\n" {
		t.Error(line.String())
	}
}

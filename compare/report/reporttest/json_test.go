package reporttest_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/compare/report"
	"offbeat/compare/report/reporttest"
)

func TestJSON(t *testing.T) {
	var b bytes.Buffer
	if err := report.JSON(&b, reporttest.Finding()); err != nil {
		t.Fatal(err)
	}
	reporttest.Golden(t, "finding.json", b.Bytes())
	var back compare.Finding
	once := b.Bytes()
	if err := json.Unmarshal(once, &back); err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if err := report.JSON(&again, &back); err != nil || !bytes.Equal(again.Bytes(), once) {
		t.Errorf("read back and written again: %v\n%s\nwant\n%s", err, again.Bytes(), once)
	}
}

// Every key that schema 1 promises is there, whatever the finding; no list is null.
func TestJSONOfAnEmptyFinding(t *testing.T) {
	f := &compare.Finding{Schema: 1, Causes: []compare.Cause{{Cause: "nothing"}}, Captures: []compare.Capture{{}}}
	var b bytes.Buffer
	if err := report.JSON(&b, f); err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	for _, key := range strings.Fields("schema measured predicted groups parts causes verdict next captures warnings confounded") {
		if got[key] == nil {
			t.Errorf("%s is %v", key, got[key])
		}
	}
	if strings.Contains(b.String(), "null") {
		t.Errorf("null in\n%s", b.String())
	}
	if f.Groups != nil || f.Causes[0].Parts != nil {
		t.Error("the caller's finding was changed")
	}
}

// A lot of two batches holds what is not of its JSON form: that is left out, whatever it is.
func TestJSONOfTwoBatches(t *testing.T) {
	var b bytes.Buffer
	r := &lot.Report{Batches: []lot.Batch{{Boards: []string{"lamp 1"}}, {Boards: []string{"lamp 2"}}}}
	if err := report.JSON(&b, r); err != nil || !strings.Contains(b.String(), `"lamp 2"`) {
		t.Errorf("%v\n%s", err, b.String())
	}
}

// A capture too short for a drift has none in the JSON, for all the lists that a drift has.
func TestJSONLeavesOutWhatIsNotTold(t *testing.T) {
	var b bytes.Buffer
	if err := report.JSON(&b, &compare.Stability{Period: &compare.PeriodUncertainty{White: 1}}); err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]bool{"drift": false, "edge_noise": false, "allan_deviation": true, "period_uncertainty": true} {
		if got := strings.Contains(b.String(), `"`+key+`"`); got != want {
			t.Errorf("%s there is %v, want %v, in\n%s", key, got, want, b.String())
		}
	}
}

func TestJSONNamesWhatIsNotFinite(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		f := reporttest.Finding()
		f.Parts[1].Interval95[1] = x
		err := report.JSON(&bytes.Buffer{}, f)
		if want := "the result's parts[1].interval95[1] is not a finite number"; err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
		f = reporttest.Finding()
		f.Causes[0].Value = &x
		err = report.JSON(&bytes.Buffer{}, f)
		if want := "the result's causes[0].value is not a finite number"; err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func TestBudgetOfASinglePulseHasOneTime(t *testing.T) {
	_, r := reporttest.Prediction(true)
	var b bytes.Buffer
	if err := report.JSON(&b, &report.Prediction{Schema: 1, Budget: report.Budget(r)}); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Contains(s, "low_time") || !strings.Contains(s, "high_time") || strings.Contains(s, "null") {
		t.Error(s)
	}
}

// The streamed document is one JSON document with the contract's keys (DESIGN 12), whatever a board's name holds.
func TestLotJSON(t *testing.T) {
	_, visits, r, rows := reporttest.LotBench(t)
	var b bytes.Buffer
	s := report.NewLotStream(&b)
	h, err := report.NewLotHeld()
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range visits {
		if err := h.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	if err := h.Each(func(i int, v *ledger.Visit) error { return s.Board(v.InLot(rows[i].Apart)) }); err != nil {
		t.Fatal(err)
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
			Against  string `json:"causes_against"`
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
	if odd, sound := doc.Boards[18], doc.Boards[17]; odd.Board != "lamp 20" || odd.Against == "" || fmt.Sprint(odd.Causes[0]["parts"]) != "[R2]" || sound.Against != "" {
		t.Errorf("%+v\n%+v", odd, sound)
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

// A latch's finding has its truth table in place of times.
func TestJSONOfALatch(t *testing.T) {
	var b bytes.Buffer
	if err := report.JSON(&b, reporttest.Broken()); err != nil {
		t.Fatal(err)
	}
	reporttest.Golden(t, "latch.json", b.Bytes())
}

package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"offbeat/compare"
)

func TestJSON(t *testing.T) {
	var b bytes.Buffer
	if err := JSON(&b, finding()); err != nil {
		t.Fatal(err)
	}
	golden(t, "finding.json", b.Bytes())
	var back compare.Finding
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if want := filled(reflect.ValueOf(*finding())).Interface(); !reflect.DeepEqual(back, want) {
		t.Errorf("read back %+v\nwant %+v", back, want)
	}
}

// Every key that schema 1 promises is there, whatever the finding; no list is null.
func TestJSONOfAnEmptyFinding(t *testing.T) {
	f := &compare.Finding{Schema: 1, Causes: []compare.Cause{{Cause: "nothing"}}, Captures: []compare.Capture{{}}}
	var b bytes.Buffer
	if err := JSON(&b, f); err != nil {
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

// A capture too short for a drift has none in the JSON, for all the lists that a drift has.
func TestJSONLeavesOutWhatIsNotTold(t *testing.T) {
	var b bytes.Buffer
	if err := JSON(&b, &compare.Stability{Period: &compare.PeriodUncertainty{White: 1}}); err != nil {
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
		f := finding()
		f.Parts[1].Interval95[1] = x
		err := JSON(&bytes.Buffer{}, f)
		if want := "the result's parts[1].interval95[1] is not a finite number"; err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
		f = finding()
		f.Causes[0].Value = &x
		err = JSON(&bytes.Buffer{}, f)
		if want := "the result's causes[0].value is not a finite number"; err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func TestBudgetOfASinglePulseHasOneTime(t *testing.T) {
	_, r := prediction(true)
	var b bytes.Buffer
	if err := JSON(&b, &Prediction{Schema: 1, Budget: Budget(r)}); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Contains(s, "low_time") || !strings.Contains(s, "high_time") || strings.Contains(s, "null") {
		t.Error(s)
	}
}

func TestCSV(t *testing.T) {
	var b bytes.Buffer
	if err := CSV(&b, finding()); err != nil {
		t.Fatal(err)
	}
	golden(t, "finding.csv", b.Bytes())
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 1+5+5+2+3+5+2+3 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	b.Reset()
	if err := Rows(&b, nil); err != nil || strings.Count(b.String(), "\n") != 1 {
		t.Errorf("no rows: %q, %v", b.String(), err)
	}
}

package reconcile

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// The shares add up to the whole miss, and the part that is off by a known factor has nearly all of it.
func TestDeviationAddsUp(t *testing.T) {
	d := design("astable")
	d.Readings = []fit.Reading{{Name: "R1", Value: 10e3, Half: 10}, {Name: "R2", Value: 47e3, Half: 47}}
	d.Targets = []fit.Target{{Quantity: "frequency", Value: 140, Low: 135, High: 145}, {Quantity: "duty_factor", Value: 0.54, Low: 0.5, High: 0.6}}
	f := run(t, d, integrate(t, fittest.Network{Circuit: "astable", Supply: 5, R1: 10e3, R2: 47e3, C: 127e-9}))
	sum := map[string]float64{}
	of := map[string]float64{}
	for _, x := range f.Deviation {
		sum[x.Quantity] += x.Value
		of[x.Quantity+" "+x.Of] = x.Value
	}
	if want := math.Log(f.Measured.Frequency.Value / 140); !(math.Abs(sum["frequency"]-want) <= 1e-9) {
		t.Errorf("the shares of the frequency add up to %v, want %v", sum["frequency"], want)
	}
	if want := math.Log(f.Measured.Duty.Value / 0.54); !(math.Abs(sum["duty_factor"]-want) <= 1e-9) {
		t.Errorf("the shares of the duty factor add up to %v, want %v", sum["duty_factor"], want)
	}
	if got, want := of["frequency C1"], -math.Log(1.27); !(math.Abs(got-want) <= 0.01) {
		t.Errorf("C1's share is %v, want about %v: %+v", got, want, f.Deviation)
	}
}

// Where it is none of the listed causes, nothing is said of a part that was not read, and the advice is to measure the parts.
func TestNothingIsSaidOfAPartThatNothingSupports(t *testing.T) {
	d := design("astable")
	d.Readings = []fit.Reading{{Name: "R1", Value: 10e3, Half: 10}}
	high := 5.9e-3
	f := run(t, d, &fit.Measurement{High: fit.Estimate{Value: high, Uncertainty: 1e-5 * high, Count: 99}, Low: fit.Estimate{Value: 9e-3, Uncertainty: 1e-7, Count: 99}})
	if f.Causes[0].Cause != cause.Unexplained {
		t.Skipf("the times are explained: %+v", f.Causes[0])
	}
	text, err := json.Marshal(f.Parts)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(text), `"supported":false`); n != len(f.Parts)-1 || strings.Count(string(text), "interval95") != 1 {
		t.Errorf("%s", text)
	}
	if len(f.Next) == 0 || f.Next[0].Part == "R1" || !strings.Contains(f.Next[0].Enter, "--reading") {
		t.Errorf("the advice is %+v", f.Next)
	}
}

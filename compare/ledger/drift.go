package ledger

import (
	"math"
	"time"
)

// Drift is how one quantity of one board moved over its visits.
type Drift struct {
	Quantity string   `json:"quantity"`
	Visits   int      `json:"visits"`
	PerYear  Estimate `json:"per_year"` // relative to the mean, weighted least squares
	Changes  []Change `json:"changes"`  // from visit to visit
}

// Estimate is a number with its standard uncertainty.
type Estimate struct {
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"standard_uncertainty"`
}

// Change is the step between two visits, relative to the earlier value.
type Change struct {
	From        time.Time `json:"from"`
	To          time.Time `json:"to"`
	Value       float64   `json:"value"`
	Uncertainty float64   `json:"standard_uncertainty"`
	Significant bool      `json:"significant"` // beyond twice its standard uncertainty
}

const year = 365.25 * 24 * float64(time.Hour)

// Drifts compares the visits of one board, given the oldest first. Visits without a result are left out; a
// quantity that fewer than two visits have is, too.
func Drifts(visits []Visit) []Drift {
	var out []Drift
	for i, name := range quantities {
		var t, x, u []float64
		var at []time.Time
		for k := range visits {
			if m := *columnsOf(&visits[k].Measured)[i]; m != nil && m.Value > 0 && m.Uncertainty > 0 {
				at = append(at, visits[k].At)
				t = append(t, float64(visits[k].At.Sub(visits[0].At))/year)
				x, u = append(x, math.Log(m.Value)), append(u, m.Uncertainty/m.Value)
			}
		}
		if len(x) < 2 {
			continue
		}
		d := Drift{Quantity: name, Visits: len(x)}
		for k := range x[1:] {
			c := Change{From: at[k], To: at[k+1], Value: math.Expm1(x[k+1] - x[k]), Uncertainty: math.Hypot(u[k], u[k+1])}
			c.Significant = math.Abs(c.Value) > 2*c.Uncertainty
			d.Changes = append(d.Changes, c)
		}
		var ok bool
		if d.PerYear, ok = slope(t, x, u); ok {
			out = append(out, d)
		}
	}
	return out
}

// slope fits a line by weighted least squares. With three points or more, scatter beyond the stated
// uncertainties widens the slope's (Birge ratio); visits at one time have no slope.
func slope(t, x, u []float64) (Estimate, bool) {
	var w, mt, mx float64
	for i := range t {
		g := 1 / (u[i] * u[i])
		w, mt, mx = w+g, mt+g*t[i], mx+g*x[i]
	}
	mt, mx = mt/w, mx/w
	var stt, stx float64
	for i := range t {
		g := 1 / (u[i] * u[i])
		stt += g * (t[i] - mt) * (t[i] - mt)
		stx += g * (t[i] - mt) * (x[i] - mx)
	}
	if !(stt > 0) {
		return Estimate{}, false
	}
	e := Estimate{stx / stt, 1 / math.Sqrt(stt)}
	if len(t) > 2 {
		chi := 0.0
		for i := range t {
			r := (x[i] - mx - e.Value*(t[i]-mt)) / u[i]
			chi += r * r
		}
		e.Uncertainty *= math.Max(1, math.Sqrt(chi/float64(len(t)-2)))
	}
	return e, true
}

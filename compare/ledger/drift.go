package ledger

import (
	"math"
	"offbeat/compare"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"
)

// Drift is how one quantity of one board moved over its visits that are alike: of one lot, on one station, against one
// design, at one temperature.
type Drift struct {
	Quantity    string    `json:"quantity"`
	Lot         string    `json:"lot,omitempty"`
	Station     string    `json:"station,omitempty"`
	Revision    string    `json:"design_revision,omitempty"`
	Temperature *float64  `json:"temperature,omitempty"` // °C, of the first
	Visits      int       `json:"visits"`
	PerYear     *Estimate `json:"per_year,omitempty"` // relative to the mean, weighted least squares; nil where the visits lie too close for a rate
	Changes     []Change  `json:"changes"`            // from visit to visit
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

// shortest is the time from the first to the last visit, in years, below which no rate a year is given: a part that was changed between
// two visits of one morning does not drift by millions of per cent (a month is common practice).
const shortest = 1. / 12

// alikeKelvin is how far the temperatures of visits may lie apart that are compared (common practice).
const alikeKelvin = 2

// Drifts compares the visits of one board with those that are like them, given the oldest first. Visits without a result
// are left out, and so is a result whose captures another result corrects; a quantity that fewer than two like visits
// have is, too. Apart counts the visits that are like no other.
func Drifts(visits []Visit) (drifts []Drift, apart int) {
	var groups [][]*Visit
	for i := range visits {
		v := &visits[i]
		if v.Error != "" || v.Silent || corrected(v, visits) {
			continue
		}
		k := slices.IndexFunc(groups, func(g []*Visit) bool { return alike(g[0], v) })
		if k < 0 {
			k = len(groups)
			groups = append(groups, nil)
		}
		groups[k] = append(groups[k], v)
	}
	for _, g := range groups {
		if len(g) < 2 {
			apart++
		}
		drifts = append(drifts, driftsOf(g)...)
	}
	if len(groups) < 2 {
		apart = 0 // a single visit is apart from nothing
	}
	return drifts, apart
}

// corrected says whether a newer result rests on the same captures.
func corrected(v *Visit, all []Visit) bool {
	return slices.ContainsFunc(all, func(o Visit) bool {
		return o.Key != v.Key && o.Error == "" && o.Lot == v.Lot && o.Recorded.After(v.Recorded) && len(v.Captures) > 0 &&
			slices.EqualFunc(o.Captures, v.Captures, func(a, b Capture) bool { return a.SHA256 == b.SHA256 && a.SHA256 != "" })
	})
}

func alike(a, b *Visit) bool {
	if a.Lot != b.Lot || a.Station != b.Station || a.Revision != b.Revision || (a.Temperature == nil) != (b.Temperature == nil) {
		return false
	}
	return a.Temperature == nil || math.Abs(*a.Temperature-*b.Temperature) <= alikeKelvin
}

// driftsOf compares visits that are alike.
func driftsOf(visits []*Visit) []Drift {
	var out []Drift
	for i, q := range compare.Quantities {
		var t, x, u []float64
		var at []time.Time
		for _, v := range visits {
			if m := v.Measured.Each()[i]; m != nil && m.Value > 0 && m.Uncertainty > 0 {
				at = append(at, v.At)
				t = append(t, float64(v.At.Sub(visits[0].At))/year)
				x, u = append(x, math.Log(m.Value)), append(u, m.Uncertainty/m.Value)
			}
		}
		if len(x) < 2 {
			continue
		}
		d := Drift{Quantity: q.Key, Lot: visits[0].Lot, Station: visits[0].Station, Revision: visits[0].Revision, Temperature: visits[0].Temperature, Visits: len(x)}
		for k := range x[1:] {
			c := Change{From: at[k], To: at[k+1], Value: math.Expm1(x[k+1] - x[k]), Uncertainty: math.Hypot(u[k], u[k+1])}
			c.Significant = math.Abs(c.Value) > 2*c.Uncertainty
			d.Changes = append(d.Changes, c)
		}
		if t[len(t)-1]-t[0] >= shortest {
			d.PerYear = slope(t, x, u)
		}
		out = append(out, d)
	}
	return out
}

// slope fits a line by weighted least squares. Scatter beyond the stated
// uncertainties widens the slope's (Birge ratio).
func slope(t, x, u []float64) *Estimate {
	weights := make([]float64, len(u))
	for i := range u {
		weights[i] = 1 / (u[i] * u[i])
	}
	mean := stat.Mean(t, weights)
	var stt, chi float64
	for i := range t {
		stt += weights[i] * (t[i] - mean) * (t[i] - mean)
	}
	base, slope := stat.LinearRegression(t, x, weights, false)
	for i := range t {
		chi += weights[i] * math.Pow(x[i]-base-slope*t[i], 2)
	}
	return &Estimate{slope, math.Sqrt(max(1, chi/float64(max(len(t)-2, 1))) / stt)}
}

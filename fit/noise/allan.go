package noise

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/stability"
)

// byChance is how often the Allan deviation of a record alone exceeds what is allowed for chance.
const byChance = 0.01

// allan holds the variance of the mean period to what the record's own Allan deviation at its longest time, hum taken off,
// allows. All noise that was found must explain that deviation, as far as chance goes (χ² with the degrees of freedom of
// NIST SP 1065, table 5, for white frequency noise); what it leaves is taken for white frequency noise, the least that such
// a deviation can mean for a longer mean. found is the Allan variance of that noise over a number of periods, in unit².
func (m *model) allan(s *fit.Series, unit float64, h *hum, found func(periods float64) float64) budget.Row {
	row := budget.Row{Name: allanName, Kind: "A", Distribution: "normal"}
	clean := fit.Series{Start: make([]float64, len(s.Start)), Every: s.Every}
	for i, x := range s.Start {
		clean.Start[i] = x/unit - h.lateRise(x/unit)
	}
	points := stability.Family(&clean)
	if len(points) == 0 {
		return row
	}
	last := points[len(points)-1]
	period := m.c.h0 + m.c.l0
	n := last.Time / period
	seen := last.Allan * last.Allan * period * period
	// Rounding of three edges is no noise: half its width at the outer ones, twice that between, all at its worst.
	rounding := 2 * 12 * m.fl.lattice[1] / (n * n)
	chance := distuv.ChiSquared{K: last.Freedom}.Quantile(1-byChance) / last.Freedom
	left := (seen-rounding)/chance - found(n)
	if !(left > 0) {
		return row
	}
	return budget.Shift(row.Name, row.Kind, row.Distribution, math.Sqrt(left*n/m.c.cycles)/period, m.c.h0, m.c.l0)
}

// lateRise is by how much a rise at x is late; h may be nil.
func (h *hum) lateRise(x float64) float64 {
	if h == nil {
		return 0
	}
	late := 0.0
	for line := range 2 {
		sin, cos := sincos(float64(line+1) * h.frequency * (x - h.middle))
		late += h.late[4*line+2]*sin + h.late[4*line+3]*cos
	}
	return late
}

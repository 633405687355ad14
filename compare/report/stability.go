package report

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
)

// clear is by how many standard uncertainties a kind of noise must stand out to be stated.
const clear = 2

// masked says whether a noise is smaller than half the interval to which edges are rounded: it is their rounding as much
// as noise.
func masked(m compare.Measured, rounding *float64) bool {
	return rounding != nil && m.Value < *rounding/2
}

// noiseText states a noise, or what it stays below.
func noiseText(m compare.Measured, rounding *float64) string {
	if masked(m, rounding) {
		return "not told: the edges are rounded to the sample interval of " + quantity.Format(*rounding, quantity.Second)
	}
	if m.Value > clear*m.Uncertainty {
		return quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)
	}
	return "none seen, below " + quantity.Format(m.Value+clear*m.Uncertainty, quantity.Second)
}

// The record leaves open what noise the period's uncertainty hangs on where a walk is neither all but certain nor all but
// excluded, and it matters where that changes the uncertainty by such a factor (common practice).
const (
	certain = 0.95
	matters = 1.5
)

// hangs says whether the period's uncertainty hangs on what the record does not tell.
func hangs(u *compare.PeriodUncertainty) bool {
	return u.Probability > 1-certain && u.Probability < certain && u.Walk > matters*u.White
}

// periodText states the period's uncertainty for either noise.
func periodText(u *compare.PeriodUncertainty) string {
	white, walk := quantity.Uncertain(u.White, u.White, quantity.Second), quantity.Uncertain(u.Walk, u.Walk, quantity.Second)
	if white == walk {
		return fmt.Sprintf("%s, whether the edges' noise is white alone or noise of the periods adds up", white)
	}
	return fmt.Sprintf("%s if the edges' noise is white alone, %s if noise of the periods adds up (probability %s)", white, walk, quantity.Probability(u.Probability))
}

// driftUnit is in what a drift is told, and by what its SI value is multiplied for it: in ppm, or per cent where it is
// no better known than to a thousandth.
func driftUnit(d *compare.Drift) (unit string, factor float64) {
	unit, factor = "/min", 60
	if d.Against == "temperature" {
		unit, factor = "/K", 1
	}
	if d.Uncertainty*factor > 1e-3 {
		return " %" + unit, 100 * factor
	}
	return " ppm" + unit, 1e6 * factor
}

// driftText states the drift of the period; what does not stand out of its uncertainty is no drift.
func driftText(d *compare.Drift) string {
	unit, k := driftUnit(d)
	value := "(" + quantity.Bare(k*d.Value, k*d.Uncertainty) + ")" + unit
	over := fmt.Sprintf("over %s", quantity.Format(d.Range, quantity.Second))
	if d.Against == "temperature" {
		over = fmt.Sprintf("over %s K", short(d.Range))
	}
	if d.Seen {
		return value + " of the period, " + over
	}
	return "none seen: " + value + " of the period, " + over
}

// allanText lists the Allan deviation by averaging time.
func allanText(points []compare.AllanPoint) string {
	var all []string
	for _, a := range points {
		all = append(all, fmt.Sprintf("%s at %s", relative(a.Value), quantity.Format(a.Time, quantity.Second)))
	}
	return strings.Join(all, ", ")
}

// dull is the standard uncertainty of a drift over time, in 1/s, above which not having seen one says nothing: 1 %/min.
const dull = 0.01 / 60

// stabilityRows are the lines that tell how the times run. All of them belong to a measurement of its own, with the Allan
// deviation; beside a finding only what says something.
func stabilityRows(s *compare.Stability, all bool) [][2]string {
	var rows [][2]string
	add := func(name, text string, tells bool) {
		if all || tells {
			rows = append(rows, [2]string{name, text})
		}
	}
	if u := s.Period; u != nil {
		add("period's uncertainty", periodText(u), hangs(u))
	}
	if !s.Drift.Told() {
		return rows
	}
	add("edge noise, white", noiseText(s.EdgeNoise, s.Rounding), !masked(s.EdgeNoise, s.Rounding))
	add("period noise, adding up", noiseText(s.PeriodNoise, s.Rounding), !masked(s.PeriodNoise, s.Rounding))
	add("drift", driftText(&s.Drift), s.Drift.Seen || s.Drift.Against == "temperature" || s.Drift.Uncertainty < dull)
	if all && len(s.Allan) > 0 {
		add("Allan deviation", allanText(s.Allan), true)
	}
	return rows
}

// driftCauses say which part would make the drift by itself; nothing where none is seen or no design was given.
func driftCauses(d *compare.Drift) []string {
	if !d.Seen || len(d.Causes) == 0 {
		return nil
	}
	unit, k := driftUnit(d)
	var out []string
	for _, c := range d.Causes {
		if !c.Plausible {
			continue
		}
		text := fmt.Sprintf("%s would make this drift by itself with (%s)%s", c.Part, quantity.Bare(k*c.Value, k*c.Uncertainty), unit)
		middle, half := 1e6*(c.Tempco[0]+c.Tempco[1])/2, 1e6*(c.Tempco[1]-c.Tempco[0])/2
		known := fmt.Sprintf("%s ± %s ppm/K", short(middle), short(half))
		if c.Warming != nil {
			text += fmt.Sprintf(": a change of its temperature by at least %.2g K, at %s", *c.Warming, known)
		} else {
			text += fmt.Sprintf("; its temperature coefficient is %s", known)
		}
		out = append(out, text)
	}
	if len(out) == 0 {
		out = append(out, "No part's temperature coefficient would make this drift by itself: two parts, the thresholds, the supply or the timer follow too.")
	}
	return out
}

// stability writes how the times run over a capture: all that is known, or what says something.
func (p *printer) stability(s *compare.Stability, all bool) {
	if s == nil {
		return
	}
	rows := stabilityRows(s, all)
	if len(rows) == 0 {
		return
	}
	p.heading("HOW THE TIMES RUN")
	for _, r := range rows {
		p.prose(fmt.Sprintf("  %-25s", r[0]), strings.Repeat(" ", 27), r[1])
	}
	for _, c := range driftCauses(&s.Drift) {
		p.prose("  - ", "    ", c)
	}
}

// follows writes how a lot's boards follow the temperature.
func (p *printer) follows(d *compare.Drift) {
	if d == nil {
		return
	}
	p.heading("HOW THE BOARDS FOLLOW THE TEMPERATURE")
	p.prose("  ", "  ", driftText(d)+", each board compared with itself.")
	for _, c := range driftCauses(d) {
		p.prose("  - ", "    ", c)
	}
}

// stabilityCSV are the numbers of how the times run as rows of a CSV table.
func stabilityCSV(source string, s *compare.Stability) []Row {
	if s == nil {
		return nil
	}
	number := func(x float64) *float64 {
		if math.IsNaN(x) {
			return nil
		}
		return &x
	}
	var rows []Row
	if u := s.Period; u != nil {
		rows = append(rows, Row{Kind: "stability", Name: "period_uncertainty_white_alone", Unit: "s", Value: &u.White, Detail: source},
			Row{Kind: "stability", Name: "period_uncertainty_with_walk", Unit: "s", Value: &u.Walk, Detail: source},
			Row{Kind: "stability", Name: "probability_of_walk", Unit: "1", Value: &u.Probability, Detail: source})
	}
	if !s.Drift.Told() {
		return rows
	}
	rows = append(rows, []Row{
		{Kind: "stability", Name: "edge_noise", Unit: "s", Value: &s.EdgeNoise.Value, Uncertainty: &s.EdgeNoise.Uncertainty, Detail: source},
		{Kind: "stability", Name: "period_noise", Unit: "s", Value: &s.PeriodNoise.Value, Uncertainty: &s.PeriodNoise.Uncertainty, Detail: source},
		{Kind: "stability", Name: "drift", Unit: s.Drift.Unit, Value: &s.Drift.Value, Uncertainty: &s.Drift.Uncertainty, Detail: source},
	}...)
	for _, a := range s.Allan {
		rows = append(rows, Row{Kind: "stability", Name: fmt.Sprintf("allan_deviation %.6g s", a.Time), Unit: "1", Value: number(a.Value), Detail: source})
	}
	return rows
}

package lot

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/hierarchy"
	"offbeat/fit"
)

// What makes a headline (common practice).
const (
	mostBoards = 0.5 // so many of the judged fail
	mostOfIt   = 0.6 // of the deviation that one part makes
	scatters   = 2   // standard deviations that are kept inside the limits
)

// headline looks for it; nil: there is none.
func (c *Collector) headline(r *Report, rows []*Row) *Headline {
	judged := r.Boards.Pass + r.Boards.Fail + r.Boards.Undecided - r.Boards.Silent
	failing := r.Boards.Fail - r.Boards.Silent
	if len(c.design.Targets) == 0 || judged < leastGroup || float64(failing) < mostBoards*float64(judged) || len(rows) == 0 || len(r.Batches) > 0 {
		return nil
	}
	h := &Headline{Failing: failing, Boards: judged}
	worst := 0.0
	var deviation, low, high float64
	for _, t := range c.design.Targets {
		i := compare.PlaceOf(t.Quantity)
		var x []float64
		aside := 0
		for _, row := range rows {
			if slices.Contains(r.Outliers, row.Board) {
				aside++
			} else {
				x = append(x, row.Values[i])
			}
		}
		if len(x) < leastGroup {
			continue
		}
		mean, sd := stat.MeanStdDev(x, nil)
		l, u := open(t)
		if out := max(l-mean, mean-u) / mean; h.Quantity == "" || out > worst {
			h.Quantity, h.Mean, h.Aside, h.Limits, worst, deviation, low, high = t.Quantity, mean, aside, [2]*float64{finite(l), finite(u)}, out, sd, l, u
		}
	}
	if h.Quantity == "" {
		return nil
	}
	if r.scattering(c.design) != nil && worst < 0 {
		return h // on target on average: it is the scatter that fails them
	}
	model, err := hierarchy.NewModel(c.design, nil)
	if err != nil {
		return h
	}
	share := func(p Part) float64 { return slopeOf(model, h.Quantity, p.Name, rows[0].predicted) * p.Shift.Value }
	total, largest := 0.0, 0.0
	var most Part
	for _, p := range r.Parts {
		own := math.Abs(share(p))
		if total += own; own > largest {
			most, largest = p, own
		}
	}
	i := slices.IndexFunc(c.design.Parts, func(p fit.Part) bool { return p.Name == most.Name })
	if i < 0 || largest < mostOfIt*total {
		return h
	}
	part, shift := &c.design.Parts[i], most.Shift.Value
	switch {
	case len(r.Causes) > 0 && r.Causes[0].Cause == cause.Nothing:
	case len(r.Causes) > 0 && slices.Equal(r.Causes[0].Parts, []string{most.Name}) && r.Causes[0].Value != nil && (r.Causes[0].Unit == "F") == (part.Kind == fit.Capacitor):
		shift = math.Log(*r.Causes[0].Value / part.Nominal) // by the cause that the sentence names, not over all
	default:
		return h // it is something else than a part's value, or not told
	}
	s := slopeOf(model, h.Quantity, most.Name, rows[0].predicted)
	base := math.Log(h.Mean) - s*shift
	if without := math.Exp(base); without < low || without > high {
		return h // that alone takes no board off target
	}
	h.Likely = r.Causes[0].Probability
	h.Part, h.Shift, h.Tolerance = most.Name, math.Expm1(shift), part.Plus
	if h.Shift < 0 {
		h.Tolerance = part.Minus
	}
	h.Inside = math.Abs(h.Shift) <= h.Tolerance && most.OutOfTolerance < likely
	scatter := scatters * deviation
	if low+scatter < high-scatter {
		a, b := math.Expm1((math.Log(max(low, 0)+scatter)-base)/s), math.Expm1((math.Log(high-scatter)-base)/s)
		if a > b {
			a, b = b, a
		}
		if !math.IsInf(a, 0) && !math.IsInf(b, 0) && !math.IsNaN(a+b) {
			h.Bears = &[2]float64{a, b}
		}
	}
	return h
}

// scattering is the part that differs from board to board for sure by more than parts in tolerance do: their standard deviation
// is at most that of a rectangle as wide. Of several the one that exceeds it most; nil: none does.
func (r *Report) scattering(d *fit.Design) (widest *Part) {
	most := 0.0
	for i := range r.Parts {
		p, q := &r.Parts[i], d.Part(r.Parts[i].Name)
		if q == nil || len(r.Batches) > 0 {
			continue
		}
		if over := (p.Spread.Value - 2*p.Spread.Uncertainty) * math.Sqrt(3) / max(q.Minus, q.Plus); over > max(1, most) {
			widest, most = p, over
		}
	}
	return widest
}

// slopeOf is d ln(quantity)/d ln(part), for predicted high and low times.
func slopeOf(m *hierarchy.Model, quantity, part string, predicted [2]float64) float64 {
	high, low := m.Slope(part)
	w := weightsOf(quantity, predicted)
	return w[0]*high + w[1]*low
}

// words of a headline.
func (h *Headline) words() string {
	q := compare.QuantityOf(h.Quantity)
	u := q.Unit
	many := fmt.Sprintf("%d of %d boards fail", h.Failing, h.Boards)
	if h.Failing == h.Boards {
		many = fmt.Sprintf("Every board of %d fails", h.Boards)
	}
	var limits []string
	for i, word := range [2]string{"at least ", "at most "} {
		if h.Limits[i] != nil {
			limits = append(limits, word+quantity.Format(*h.Limits[i], u))
		}
	}
	of := "on average"
	switch h.Aside {
	case 0:
	case 1:
		of = "on average, without the board that stands out,"
	default:
		of = fmt.Sprintf("on average, without the %d boards that stand out,", h.Aside)
	}
	where := fmt.Sprintf("%s the %s is %s, the target %s", of, q.Name, quantity.Format(h.Mean, u), strings.Join(limits, ", "))
	if h.Part == "" {
		return fmt.Sprintf("%s: %s.", many, where)
	}
	side := "high"
	if h.Shift < 0 {
		side = "low"
	}
	inside := "outside"
	if h.Inside {
		inside = "in"
	}
	text := fmt.Sprintf("%s, most likely since the batch of %s is %s %s, %s its tolerance of %s (probability %s): %s.", many, h.Part, quantity.Relative(math.Abs(h.Shift)), side, inside, quantity.Relative(h.Tolerance),
		quantity.Probability(h.Likely), where)
	if h.Bears == nil {
		return text + " With this scatter of the boards the target bears no batch."
	}
	return text + fmt.Sprintf(" The target bears a batch of %s from %s to %s of nominal.", h.Part, quantity.Change(h.Bears[0]), quantity.Change(h.Bears[1]))
}

// likely is the probability from which a cause is named without a doubt beside it.
const likely = 0.5

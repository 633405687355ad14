package document

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
	"offbeat/fit"
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
		return "not resolved: the edges are rounded to the sample interval of " + quantity.Format(*rounding, quantity.Second)
	}
	if m.Value > clear*m.Uncertainty {
		return quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)
	}
	return "not significant, below " + quantity.Format(m.Value+clear*m.Uncertainty, quantity.Second)
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
		return fmt.Sprintf("%s, with white edge noise alone or with random-walk period noise", white)
	}
	return fmt.Sprintf("%s with white edge noise alone, %s with random-walk period noise (probability %s)", white, walk, quantity.Probability(u.Probability))
}

// humUnseen stands beside every uncertainty and verdict that rest on a record too short for hum.
const humUnseen = "The record is shorter than two periods of the mains, so it can't show hum: ± and verdict leave hum out. A record of 40 ms or more shows it."

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
		over = fmt.Sprintf("over %s K", words.Short(d.Range))
	}
	if d.Seen {
		return value + " of the period, " + over
	}
	return "not significant: " + value + " of the period, " + over
}

// aside tells, in a single line that leaves out all other notes, what its ± and verdict rest on.
func aside(c *compare.Capture) string {
	var all []string
	if c.Guess != "" {
		all = append(all, c.Guess)
	}
	if c.Stability != nil && c.Stability.Modulation != nil {
		all = append(all, "modulated: "+c.Stability.Modulation.String())
	}
	if c.Stability != nil && c.Stability.Moves.Slight {
		all = append(all, c.Stability.Moves.Text(c.Stability.Of()))
	}
	if compare.HumUnseen([]compare.Capture{*c}) {
		all = append(all, "too short a record to show mains hum")
	}
	if len(all) == 0 {
		return ""
	}
	return " (" + strings.Join(all, "; ") + ")"
}

// jumps leads with the changes inside a capture; nothing where there are none.
func jumps(s *compare.Stability) string {
	if s == nil || len(s.Changes) == 0 && !s.Moves.Lead() {
		return ""
	}
	return movement(s) + "; over the whole "
}

// movement says how the period jumps, or moves without, and which pulses are not there.
func movement(s *compare.Stability) string {
	m := &s.Moves
	all := m.Lacks()
	switch {
	case m.By != 0 && !m.Slight:
		all = append(all, m.Text(s.Of()))
	case len(s.Changes) > 0:
		all = append(all, "intermittent, the "+s.Of()+" changes "+changesOf(s.Changes))
	}
	return strings.Join(all, "; ")
}

// changesOf says when the period changed; nothing where it did not.
func changesOf(changes []fit.Change) string {
	var all []string
	for _, c := range changes {
		all = append(all, c.String())
	}
	return strings.Join(fit.FirstChanges(all), ", ")
}

// allanText lists the Allan deviation by averaging time.
func allanText(points []compare.AllanPoint) string {
	var all []string
	for _, a := range points {
		all = append(all, fmt.Sprintf("%s at %s", quantity.Relative(a.Value), quantity.Format(a.Time, quantity.Second)))
	}
	return strings.Join(all, ", ")
}

// stabilityRows are the lines that tell how the times run. All of them belong to a measurement of its own, with the Allan
// deviation; beside a finding only what asks for something to be done.
func stabilityRows(s *compare.Stability, all bool) [][2]string {
	var rows [][2]string
	add := func(name, text string, tells bool) {
		if all || tells {
			rows = append(rows, [2]string{name, text})
		}
	}
	for _, c := range s.Changes {
		add("change of the "+s.Of(), c.String(), true)
	}
	if s.Modulation != nil {
		add("modulation", s.Modulation.String()+map[bool]string{false: "; ± holds it"}[s.Modulation.Mains], true)
	}
	if u := s.Period; u != nil {
		add("uncertainty of the period", periodText(u), hangs(u))
		if u.Hum > 0 {
			add("mains hum", fmt.Sprintf("%.4g Hz and twice it move the period by ± %s; taken off", u.Hum, quantity.Relative(u.Swing)), true)
		}
		if p := u.Flicker + u.Wander; p > 0 && len(s.Changes) == 0 {
			add("flicker or a wandering period", fmt.Sprintf("probability %s: averaging does not lessen it, and ± holds for the mean of another record as long too", quantity.Probability(p)), p > 0.5)
		}
	}
	of := ""
	if len(s.Changes) > 0 {
		of = " within the longest stretch"
	}
	if s.Modulation == nil && s.EdgeNoise != (compare.Measured{}) { // else it is no noise, or no stretch is long enough to tell
		add("white edge noise"+of, noiseText(s.EdgeNoise, s.Rounding), false)
		add("random-walk period noise"+of, noiseText(s.PeriodNoise, s.Rounding), false)
	}
	if !s.Drift.Told() { // or it is that of the changes
		return rows
	}
	add("drift", driftText(&s.Drift), s.Drift.Seen || s.Drift.Against == "temperature")
	if len(s.Allan) > 0 {
		add("Allan deviation", allanText(s.Allan), false)
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
		known := quantity.Minus(words.Short(middle)) + " ± " + words.Short(half) + " ppm/K"
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

// stability tells how the times run over a capture: all that is known, or what says something. A document about what to fit
// has no room for it, one of a stream that was heard for its pictures alone.
func (b *Basis) stability(st *compare.Stability, all bool) Section {
	s := Section{ID: "stability", Heading: "Stability"}
	if st == nil {
		return s
	}
	s.Records = stabilityRecords(st)
	if b.Proposals != nil {
		return s
	}
	s.Layout = Trio
	s.draw(func(id string) picture.Picture { return picture.Course(id, st, driftText(&st.Drift)) },
		func(id string) picture.Picture { return picture.Allan(id, st) })
	t := &Table{Columns: []Column{{}, {}}, Caption: "White noise moves each edge by itself; random-walk period noise adds up from cycle to cycle. A drift is significant from three standard uncertainties on."}
	for _, r := range stabilityRows(st, true) {
		t.Rows = append(t.Rows, cells(r[0], r[1]))
	}
	show := Detail
	if all || len(stabilityRows(st, false)) > 0 {
		show = Always
	}
	if len(t.Rows) == 0 || b.Session != nil && !all {
		return s
	}
	s.table(t, show)
	s.points(driftCauses(&st.Drift)...)
	return s
}

// follows says how a lot's boards follow the temperature.
func follows(d *compare.Drift) Section {
	s := Section{ID: "temperature", Heading: "How the boards follow the temperature"}
	if d != nil {
		s.say(Sentence, driftText(d)+", each board compared with itself.")
		s.points(driftCauses(d)...)
	}
	return s
}

// stabilityRecords are the numbers of how the times run.
func stabilityRecords(s *compare.Stability) []Record {
	number := func(x float64) *float64 {
		if math.IsNaN(x) {
			return nil
		}
		return &x
	}
	var rows []Record
	add := func(name, unit string, value, u *float64) {
		rows = append(rows, Record{Kind: "stability", Name: name, Unit: unit, Value: value, Uncertainty: u})
	}
	for i := range s.Changes {
		c := &s.Changes[i]
		add("change_time", "s", &c.Time, nil)
		add("period_before", "s", &c.Before, nil)
		add("period_after", "s", &c.After, nil)
		add("period_jump", "1", &c.By, &c.Uncertainty)
	}
	if s.Modulation != nil {
		add("modulation_rms", "1", &s.Modulation.Amplitude, nil)
		add("modulation_cycles", "1", &s.Modulation.Every, nil)
	}
	if u := s.Period; u != nil {
		add("period_uncertainty_white_alone", "s", &u.White, nil)
		add("period_uncertainty_with_walk", "s", &u.Walk, nil)
		add("probability_of_walk", "1", &u.Probability, nil)
	}
	if s.EdgeNoise != (compare.Measured{}) {
		add("edge_noise", "s", &s.EdgeNoise.Value, &s.EdgeNoise.Uncertainty)
		add("period_noise", "s", &s.PeriodNoise.Value, &s.PeriodNoise.Uncertainty)
	}
	if s.Drift.Told() {
		add("drift", s.Drift.Unit, &s.Drift.Value, &s.Drift.Uncertainty)
	}
	for _, a := range s.Allan {
		add(fmt.Sprintf("allan_deviation %.6g s", a.Time), "1", number(a.Value), nil)
	}
	return rows
}

package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/lot"
	"offbeat/compare/report/picture"
	"offbeat/fit"
)

// lotSections tell of a lot: the plan and its risk, the values against their limits, what the whole lot has in
// common, the boards that stand out, the charts, what measuring adds.
func (p *Page) lotSections(a *album) []*section {
	d, r := p.Design, p.Lot
	return []*section{lotDecision(a, r), lotValues(a, r), lotReels(a, d, r, p.Boards), lotStanding(r), lotCharts(a, d, r), lotGauge(a, r), lotLots(r), lotWithout("silent", "No pulses", r.Silent), lotWithout("failed", "Could not be read", r.Failed), lotBasis(r), p.cautions()}
}

func lotDecision(a *album, r *lot.Report) *section {
	q := r.Acceptance
	s := &section{ID: "decision", Heading: "Decision", Layout: pair, Points: []string{
		countText(r.Boards) + ".",
		fmt.Sprintf("Result: %s by %s: %s.", q.Result, q.Method, q.Reason),
		planText(q.Plan),
	}}
	for _, v := range r.Variables {
		s.Points = append(s.Points, fmt.Sprintf("By variables, %s: %s: %s (%s).", spaced(v.Quantity), v.Result, v.Reason, v.Standard))
	}
	if r.Switching != "" {
		s.Points = append(s.Points, "Next lots: "+r.Switching+".")
	}
	caption := "How many of 100 lots the plan accepts, against what is nonconforming in them. The upper dot is the producer's risk: a lot as good as that is turned away once in twenty. The lower dot is the consumer's: a lot as bad as that slips through once in ten."
	s.Pictures = []drawing{placed(picture.Operating(a.id(), "Operating characteristic", caption, q.Curve.Fraction, q.Curve.Probability, q.Plan.Producer, q.Plan.Consumer))}
	return s
}

func lotValues(a *album, r *lot.Report) *section {
	if len(r.Capability) == 0 {
		return nil
	}
	s := &section{ID: "capability", Heading: "Capability", Layout: pair}
	// A line an index and a column a quantity: what has a target is seldom more than one or two.
	t := table{Caption: "Index with its 95 % confidence limits. Cp and Cpk take the short-term deviation of the charts, Pp and Ppk the overall one. Normal: Anderson-Darling.", Heads: []head{{"", false}}}
	for _, name := range []string{"mean", "deviation", "Cp", "Cpk", "Pp", "Ppk", "outside the target", "normal?"} {
		t.Rows = append(t.Rows, []entry{{Text: name}})
	}
	for _, k := range timeRows {
		c, ok := r.Capability[k.key]
		if !ok {
			continue
		}
		t.Heads = append(t.Heads, head{k.name, true})
		for i, text := range []string{quantity.Format(c.Mean, k.unit), quantity.Format(rounded(c.Deviation), k.unit), index(c.Cp, c.CpInterval), index(c.Cpk, c.CpkLimits), index(c.Pp, c.PpInterval), index(c.Ppk, c.PpkLimits), outside(c.Outside), normal(c.Normality)} {
			t.Rows[i] = append(t.Rows[i], entry{Text: strings.ReplaceAll(text, "-", "\u2212"), Number: true})
		}
		low, high := math.Inf(-1), math.Inf(1)
		if c.Limits[0] != nil {
			low = *c.Limits[0]
		}
		if c.Limits[1] != nil {
			high = *c.Limits[1]
		}
		caption := "How many boards have which value. Hatched: outside the target. The dashed curve is the normal distribution of their mean and deviation; where the bars leave it, the fractions in the table do not hold."
		s.Pictures = append(s.Pictures, placed(picture.Histogram(a.id(), sentence(k.name)+" of the boards", caption, k.name, k.unit, r.Values[k.key], c.Mean, c.Deviation, low, high)))
	}
	s.Tables = []table{t}
	return s
}

func lotReels(a *album, d *fit.Design, r *lot.Report, boards []lot.Row) *section {
	if len(r.Parts) == 0 {
		return nil
	}
	s := &section{ID: "reels", Heading: "What the whole lot has in common", Layout: pair}
	t := table{Caption: "Each part over the lot: the reel's mean against nominal and the standard deviation from board to board, each with one standard uncertainty.",
		Heads: []head{{"", false}, {"mean", true}, {"spread", true}, {"mean out of tolerance", false}}}
	var rows []picture.Band
	for _, q := range r.Parts {
		t.Rows = append(t.Rows, []entry{{Text: q.Name}, {Text: shiftText(q.Shift), Number: true}, {Text: spreadText(q.Spread), Number: true},
			{Text: Percent(q.OutOfTolerance), Bar: q.OutOfTolerance, Mark: q.OutOfTolerance > 0.5}})
		if p := d.Part(q.Name); p != nil {
			unit := quantity.Ohm
			if p.Kind == fit.Capacitor {
				unit = quantity.Farad
			}
			mean := p.Nominal * math.Exp(q.Shift.Value)
			rows = append(rows, picture.Band{Name: q.Name, Word: quantity.Format(rounded3(mean), unit), Unit: unit, Reference: p.Nominal, Limits: [2]float64{p.Low(), p.High()},
				Likely: [2]float64{mean * math.Exp(-2*q.Spread.Value), mean * math.Exp(2*q.Spread.Value)}, Measured: mean, Expanded: 2 * q.Shift.Uncertainty * mean})
		}
	}
	s.Tables = []table{t, lotCauses(r)}
	s.Points = append(s.Points, beyondTheList(r.Confounded)...)
	caption := "Hatched: the tolerance. The solid bar is where 95 % of the lot's parts lie, the dot the mean of the reel with its expanded uncertainty (k = 2). A dot clear of the hatching is a reel that is off; a long bar is a part that scatters."
	s.Pictures = []drawing{placed(picture.Bands(a.id(), "The reels", caption, rows))}
	if p, ok := lotPlane(d, r, boards); ok {
		s.Pictures = append(s.Pictures, placed(p.Draw(a.id())))
	}
	return s
}

// rounded3 keeps three digits of a value.
func rounded3(v float64) float64 {
	f := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-2)
	return math.Round(v/f) * f
}

// lotCauses lists what may have moved every board alike.
func lotCauses(r *lot.Report) table {
	t := table{Caption: "Causes that move every board alike, the likeliest first.", Heads: []head{{"cause", false}, {"probability", false}}}
	small, rest := 0, 0.0
	for i, c := range r.Causes {
		if c.Probability < causeFloor && i > 0 {
			small, rest = small+1, rest+c.Probability
			continue
		}
		t.Rows = append(t.Rows, []entry{{Text: sentence(c.Detail)}, {Text: Percent(c.Probability), Bar: c.Probability, Mark: i == 0}})
	}
	if small > 0 {
		t.Rows = append(t.Rows, []entry{{Text: plural(small, "other cause") + ", each below 1 %"}, {Text: Percent(rest), Bar: rest}})
	}
	return t
}

func lotStanding(r *lot.Report) *section {
	if len(r.Standing) == 0 {
		return nil
	}
	t := table{Caption: "Distance from the other boards in standard deviations (Mahalanobis), and what sets the board apart from the lot.", Heads: []head{{"board", false}, {"distance", true}, {"cause", false}, {"probability", false}}}
	for _, o := range r.Standing {
		t.Rows = append(t.Rows, []entry{{Text: o.Board}, {Text: distanceText(o.Distance), Number: true}, {Text: sentence(o.Cause.Detail)}, {Text: Percent(o.Cause.Probability), Bar: o.Cause.Probability}})
	}
	return &section{ID: "standing", Heading: "Boards that stand out", Layout: flow, Tables: []table{t}}
}

func lotCharts(a *album, d *fit.Design, r *lot.Report) *section {
	if len(r.Charts) == 0 {
		return nil
	}
	s := &section{ID: "charts", Heading: "Control charts", Layout: mosaic}
	rules := map[int]string{}
	for _, c := range r.Charts {
		k := picture.Control{Unit: unitOf(c.Quantity), Points: c.Drawing.Points, Low: c.Drawing.Low, High: c.Drawing.High, Centre: c.Drawing.Centre, Labels: c.Labels}
		for _, g := range c.Drawing.Signals {
			rules[g.Rule] = g.Name
			if !slices.Contains(k.Signals, g.Point) {
				k.Signals = append(k.Signals, g.Point)
			}
		}
		for _, t := range d.Targets {
			if t.Quantity == c.Quantity && c.Chart == "individuals" {
				k.Target = [2]float64{t.Low, t.High}
			}
		}
		caption := "Solid lines are the control limits, dash-dotted the centre"
		if k.Target[0] != k.Target[1] {
			caption += ", dashed the target"
		}
		if n := len(c.Signals); n > 0 {
			caption += fmt.Sprintf(". %s, ringed; the first at %s: %s.", plural(n, "signal"), c.Signals[0].At, c.Signals[0].Name)
		} else {
			caption += ". In control: no point outside the limits, no pattern."
		}
		s.Pictures = append(s.Pictures, placed(picture.ControlChart(a.id(), sentence(spaced(c.Quantity))+", "+c.Chart, caption, k)))
	}
	for n := range 9 {
		if name, ok := rules[n]; ok {
			s.Points = append(s.Points, fmt.Sprintf("Rule %d: %s (ISO 7870-2).", n, name))
		}
	}
	return s
}

func lotGauge(a *album, r *lot.Report) *section {
	if len(r.Gauge) == 0 {
		return nil
	}
	s := &section{ID: "gauge", Heading: "What measuring adds", Layout: pair}
	for _, g := range r.Gauge {
		unit := unitOf(g.Quantity)
		bars := []picture.Bar{{Name: "Repetition", Value: g.Repeatability}}
		for _, b := range []struct {
			name  string
			value *float64
		}{{"Between " + g.Stations + "s", g.Reproducibility}, {"Boards that " + g.Stations + "s see differently", g.Interaction}, {"Between boards", g.BoardToBoard}} {
			if b.value != nil {
				bars = append(bars, picture.Bar{Name: b.name, Value: *b.value})
			}
		}
		caption := "Standard deviations. The first bars are the measuring, the last is what it is meant to see."
		s.Pictures = append(s.Pictures, placed(picture.Bars(a.id(), "Spread of the "+spaced(g.Quantity), caption, unit, bars)))
		text := fmt.Sprintf("%s: %d captures of %s on %s. Together %s.", sentence(spaced(g.Quantity)), g.Observations, plural(g.Boards, "board"), plural(g.Count, g.Stations), quantity.Format(rounded(g.Total), unit))
		if g.Share != nil {
			text += " That takes " + relative(*g.Share) + " of the tolerance."
		}
		s.Points = append(append(s.Points, text), g.Notes...)
	}
	s.Points = append(s.Points, "Method: "+r.Gauge[0].Method+".")
	return s
}

func lotLots(r *lot.Report) *section {
	if len(r.Lots) == 0 {
		return nil
	}
	t := table{Caption: "Each lot by itself.", Heads: []head{{"lot", false}, {"result", false}, {"boards", false}, {"reels out of tolerance", false}}}
	for _, l := range r.Lots {
		t.Rows = append(t.Rows, []entry{{Text: l.Lot}, {Text: string(l.Acceptance.Result), Mark: l.Acceptance.Result == "reject"}, {Text: countText(l.Boards)}, {Text: movedReels(l.Parts)}})
	}
	return &section{ID: "lots", Heading: "Lot by lot", Layout: flow, Tables: []table{t}}
}

// lotWithout lists boards without values, and why.
func lotWithout(id, heading string, boards []lot.Failure) *section {
	if len(boards) == 0 {
		return nil
	}
	s := &section{ID: id, Heading: heading, Layout: flow}
	for _, f := range boards {
		s.Points = append(s.Points, f.Board+": "+f.Error)
	}
	return s
}

func lotBasis(r *lot.Report) *section {
	if len(r.Warnings) == 0 {
		return nil
	}
	return &section{ID: "basis", Heading: "What this rests on", Layout: flow, Points: slices.Clone(r.Warnings)}
}

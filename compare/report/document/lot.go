package document

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/compare/plane"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
)

// lotSections tell of a lot: the decision with its risk, what is common to the lot, which boards stand out, the values
// against their limits, the charts, what measuring adds.
func (b *Basis) lotSections() []Section {
	r := b.Lot
	return []Section{lotDecision(r), b.lotCommon(), lotBatches(r), b.lotStanding(), b.lotBoards(), lotValues(r), b.lotCharts(), lotGauge(r), lotEffects(r), follows(r.Follows), lotLots(r), lotChanging(r.Changing), lotWithout("silent", "No pulses", r.Silent), lotWithout("failed", "Could not be read", r.Failed), lotAbout(r), b.lotFiles(), notes(r.Warnings)}
}

func lotDecision(r *lot.Report) Section {
	q := r.Acceptance
	s := Section{ID: "decision", Heading: "Acceptance", Layout: Pair}
	caption := "How many of 100 lots the plan accepts, against what is nonconforming in them. The upper dot is the producer's risk: a lot as good as that is turned away once in twenty. The lower dot is the consumer's: a lot as bad as that slips through once in ten."
	s.draw(func(id string) picture.Picture {
		return picture.Operating(id, "Operating characteristic", caption, q.Curve.Fraction, q.Curve.Probability, q.Plan.Producer, q.Plan.Consumer)
	})
	s.say(Sentence, countText(r.Boards)+".")
	s.labelled(Sentence, "Result", fmt.Sprintf("%s by %s: %s.", q.Result, q.Method, q.Reason))
	s.labelled(Sentence, "Plan", planText(q.Plan))
	for _, v := range r.Variables {
		s.labelled(Sentence, "By variables", fmt.Sprintf("%s: %s, n = %d, k = %.3f: %s (%s).", compare.QuantityOf(v.Quantity).Name, v.Result, v.Size, v.K, v.Reason, v.Standard))
	}
	if r.Switching != "" {
		s.labelled(Sentence, "Next lots", r.Switching+".")
	}
	return s
}

// lotBatches are the groups that the boards fall into.
func lotBatches(r *lot.Report) Section {
	s := Section{ID: "batches", Heading: "Two batches mixed"}
	if len(r.Batches) > 1 && r.Batches[1].From != "" {
		s.Heading = map[bool]string{true: "Two", false: fmt.Sprint(len(r.Batches))}[len(r.Batches) == 2] + " batches, one after the other"
	}
	t := &Table{Caption: "Told from one group by likelihood. Each is judged by itself.", Columns: []Column{{Head: "batch"}, {Head: "boards"}, {Head: "out of tolerance"}, {Head: "among them", Drop: 1}}}
	for i, b := range r.Batches {
		names := strings.Join(b.Boards[:min(len(b.Boards), 6)], ", ")
		if len(b.Boards) > 6 {
			names += " …"
		}
		t.Rows = append(t.Rows, cells(fmt.Sprint(i+1), countText(b.Count), cmp.Or(movedBatches(b.Parts), "none"), names))
	}
	s.table(t, Always)
	return s
}

// lotEffects are what stations, operators and the temperature do to a measurement.
func lotEffects(r *lot.Report) Section {
	s := Section{ID: "effects", Heading: "Stations, operators, temperature"}
	t := &Table{Caption: "Against the mean of all, crossed, with the 95 % coverage interval. By the same boards: each compared with itself; else the boards' own scatter is in the interval.",
		Columns: []Column{{}, {Head: "of"}, {Head: "reads", Number: true}, {Head: "95 %", Number: true}, {Head: "by", Drop: 1}}}
	for _, e := range r.Effects {
		by, name := "boards of its own", e.Factor+" "+e.Level
		if e.Within {
			by = "the same boards"
		}
		scale, unit := 100.0, " %"
		if e.Factor == "temperature" {
			scale, unit, name = 1e6, " ppm/K", e.Factor
		}
		tone := Plain
		if e.Significant {
			tone = Doubtful
		}
		number := func(x float64) string { return quantity.Minus(fmt.Sprintf("%+.3f", scale*x)) }
		t.Rows = append(t.Rows, []Cell{{Text: compare.QuantityOf(e.Quantity).Name}, {Text: name}, toned(number(e.Bias)+unit, tone), {Text: number(e.Interval95[0]) + " … " + number(e.Interval95[1]) + unit}, {Text: by}})
	}
	s.table(t, Always)
	return s
}

// index writes a capability index with its 95 % limits.
func index(v *float64, interval *[2]float64) string {
	if v == nil {
		return "none"
	}
	return quantity.Minus(fmt.Sprintf("%.2f (%.2f … %.2f)", *v, interval[0], interval[1]))
}

// outside writes a fraction outside the target; an estimate never says all.
func outside(x float64) string {
	if x >= 0.9995 {
		return quantity.Probability(x)
	}
	return quantity.Relative(x)
}

// lotValues are the values against their limits: a line an index and a column a quantity, since what has a target is seldom
// more than one or two.
func lotValues(r *lot.Report) Section {
	s := Section{ID: "capability", Heading: "Capability"}
	if len(r.Capability) == 0 {
		return s
	}
	s.Layout = Pair
	t := &Table{Caption: "Index with its 95 % confidence limits. Cp and Cpk take the short-term deviation of the charts, Pp and Ppk the overall one. Normal: Anderson-Darling.", Columns: []Column{{}}}
	for _, name := range []string{"mean", "deviation", "Cp", "Cpk", "Pp", "Ppk", "outside the target", "normal?"} {
		t.Rows = append(t.Rows, cells(name))
	}
	const caption = "How many boards have which value. Hatched: outside the target. The dashed curve is the normal distribution of their mean and deviation; where the bars leave it, the fractions in the table do not hold."
	for _, q := range compare.Quantities {
		c, ok := r.Capability[q.Key]
		if !ok {
			continue
		}
		t.Columns = append(t.Columns, Column{Head: q.Name, Number: true})
		for i, text := range []string{quantity.Format(c.Mean, q.Unit), quantity.Format(quantity.Rounded(c.Deviation, 2), q.Unit), index(c.Cp, c.CpInterval), index(c.Cpk, c.CpkLimits),
			index(c.Pp, c.PpInterval), index(c.Ppk, c.PpkLimits), outside(c.Outside), cmp.Or(c.Normality.Words(), "too few")} {
			t.Rows[i] = append(t.Rows[i], Cell{Text: text})
		}
		low, high := math.Inf(-1), math.Inf(1)
		if c.Limits[0] != nil {
			low = *c.Limits[0]
		}
		if c.Limits[1] != nil {
			high = *c.Limits[1]
		}
		s.draw(func(id string) picture.Picture {
			return picture.Histogram(id, compare.Sentence(q.Name)+" of the boards", caption, q.Name, q.Unit, r.Values[q.Key], c.Mean, c.Deviation, low, high)
		})
	}
	s.table(t, Always)
	return s
}

// shiftText writes a logarithm as a relative change with its uncertainty, both shares of nominal.
func shiftText(e lot.Estimate) string {
	return words.Changed(math.Expm1(e.Value), math.Exp(e.Value)*e.Uncertainty)
}

// movedBatches names the parts whose batch is probably out of tolerance, and by how much.
func movedBatches(parts []lot.Part) string {
	var out []string
	for _, q := range parts {
		if q.OutOfTolerance > 0.5 {
			out = append(out, q.Name+" "+shiftText(q.Shift))
		}
	}
	return strings.Join(out, ", ")
}

// lotCommon is what all boards have in common: the batches of the parts, and what may have moved every board alike.
func (b *Basis) lotCommon() Section {
	r := b.Lot
	s := Section{ID: "common", Heading: "Common to the lot"}
	if len(r.Parts) == 0 {
		return s
	}
	s.Layout = Pair
	t := &Table{Caption: "Each part over the lot: the batch's mean against nominal and the standard deviation from board to board, each with one standard uncertainty.",
		Columns: []Column{{}, {Head: "mean against nominal", Number: true}, {Head: "spread from board to board", Number: true}, {Head: "P(mean out of tolerance)", Number: true}}}
	var bands []picture.Band
	for _, q := range r.Parts {
		t.Rows = append(t.Rows, []Cell{{Text: q.Name}, {Text: shiftText(q.Shift)}, {Text: strings.TrimPrefix(words.Changed(q.Spread.Value, q.Spread.Uncertainty), "+")}, likelihood(q.OutOfTolerance)})
		if p := b.Design.Part(q.Name); p != nil {
			unit := p.Kind.Unit()
			mean := p.Nominal * math.Exp(q.Shift.Value)
			bands = append(bands, picture.Band{Name: q.Name, Word: quantity.Format(quantity.Rounded(mean, 3), unit), Unit: unit, Reference: p.Nominal, Limits: [2]float64{p.Low(), p.High()},
				Likely: [2]float64{mean * math.Exp(-2*q.Spread.Value), mean * math.Exp(2*q.Spread.Value)}, Measured: mean, Expanded: 2 * q.Shift.Uncertainty * mean})
		}
	}
	const caption = "Hatched: the tolerance. The solid bar is where 95 % of the lot's parts lie, the dot the mean of the batch with its expanded uncertainty (k = 2). A dot clear of the hatching is a batch that is off; a long bar is a part that scatters."
	s.draw(func(id string) picture.Picture {
		return picture.Bands(id, "The batches", caption, "against nominal", bands)
	})
	s.draw(func(id string) picture.Picture {
		p, ok := plane.OfLot(b.Design, r, b.Boards)
		if !ok {
			return picture.Picture{}
		}
		p.Likely = likeliest(r.Causes)
		return picture.Plane(id, &p)
	})
	s.table(t, Always)
	causes := causeTable(r.Causes)
	causes.Caption = "Causes that move every board alike, the likeliest first."
	s.table(causes, Always)
	confounded(&s, r.Confounded)
	return s
}

// standingShown is how many boards that stand out are listed in text unless all are asked for.
const standingShown = 20

func (b *Basis) lotStanding() Section {
	r, rows := b.Lot, b.boardRows()
	s := Section{ID: "standing", Heading: "Boards that stand out"}
	table := func(some []lot.Outlier) *Table {
		t := &Table{Caption: "Distance from the other boards in standard deviations (Mahalanobis), and what likeliest sets the board apart from them: its parts come from the same batches.",
			Columns: []Column{{Head: "board", Given: true}, {Head: "distance", Number: true}, {Head: "cause"}, {Head: "probability", Number: true}}}
		for _, o := range some {
			distance := fmt.Sprintf("%.1f", o.Distance)
			if o.Distance >= 100 {
				distance = fmt.Sprintf("%.0f", o.Distance)
			}
			t.Rows = append(t.Rows, []Cell{{Text: o.Board, ID: standingID(rows, o.Board), Link: rows[o.Board]}, {Text: distance}, {Text: compare.Sentence(o.Cause.Detail)}, {Text: quantity.Probability(o.Cause.Probability)}})
		}
		return t
	}
	s.table(table(r.Standing[:min(len(r.Standing), standingShown)]), Always)
	if more := len(r.Standing) - standingShown; more > 0 {
		rest := table(r.Standing[standingShown:])
		s.add(Block{Text: fmt.Sprintf("%d more; --explain lists them.", more), Show: TextOnly})
		s.table(rest, Detail)
	}
	return s
}

// leastCharted is how many points a chart needs: with fewer its limits say too little, and no pattern can be told (common
// practice).
const leastCharted = 8

// lotCharts are the control charts, in a table and drawn.
func (b *Basis) lotCharts() Section {
	r := b.Lot
	s := Section{ID: "charts", Heading: "Control charts (ISO 7870-2)"}
	if len(r.Charts) == 0 {
		return s
	}
	s.Layout = Mosaic
	rules, show := map[int]string{}, TextOnly
	t := &Table{Columns: []Column{{}, {}, {Head: "centre", Number: true}, {Head: "limits", Number: true}, {Head: "state"}}}
	for _, c := range r.Charts {
		q := compare.QuantityOf(c.Quantity)
		state, said := toned("in control", Good), ". In control: no point outside the limits, no pattern."
		if n := len(c.Signals); n > 0 {
			first := c.Signals[0]
			state = toned(fmt.Sprintf("%s; first at %s: rule %d", quantity.Plural(n, "signal"), first.At, first.Rule), Doubtful)
			said = fmt.Sprintf(". %s, ringed; the first at %s: %s.", quantity.Plural(n, "signal"), first.At, first.Name)
			if c.Steady {
				state = Cell{Text: fmt.Sprintf("%s, as %s of steady lots show", quantity.Plural(n, "signal"), quantity.Probability(c.Chance))}
				said += fmt.Sprintf(" %s of steady lots of this size show as many.", quantity.Probability(c.Chance))
			}
		}
		few := len(c.Drawing.Points) < leastCharted
		if few {
			state = Cell{Text: quantity.Plural(len(c.Drawing.Points), "point") + fmt.Sprintf("; a chart needs %d", leastCharted)}
		}
		t.Rows = append(t.Rows, []Cell{{Text: q.Name}, {Text: c.Chart}, {Text: quantity.Format(c.Centre, q.Unit)}, {Text: quantity.Span(c.Low, c.High, q.Unit)}, state})
		if few {
			show = Always
			continue
		}
		k := picture.Control{Unit: q.Unit, Points: c.Drawing.Points, Low: c.Drawing.Low, High: c.Drawing.High, Centre: c.Drawing.Centre, Labels: c.Labels}
		for _, g := range c.Drawing.Signals {
			rules[g.Rule] = g.Name
			if !slices.Contains(k.Signals, g.Point) {
				k.Signals = append(k.Signals, g.Point)
			}
		}
		caption := "Solid lines are the control limits, dash-dotted the centre"
		if t := b.target(c.Quantity); t != nil && c.Chart == "individuals" {
			k.Target = [2]float64{t.Low, t.High}
			caption += ", dashed the target"
		}
		s.draw(func(id string) picture.Picture {
			return picture.ControlChart(id, compare.Sentence(q.Name)+", "+c.Chart, caption+said, k)
		})
	}
	s.table(t, show)
	for n := range 9 {
		if name, ok := rules[n]; ok {
			s.add(Block{Kind: Point, Label: fmt.Sprint("Rule ", n), Text: name + ".", Show: Detail})
		}
	}
	return s
}

// lotGauge says what repeated measurements add to the spread of the boards.
func lotGauge(r *lot.Report) Section {
	s := Section{ID: "gauge", Heading: "Repeatability and reproducibility"}
	if len(r.Gauge) == 0 {
		return s
	}
	s.Layout = Pair
	by := strings.Replace(r.Gauge[0].Stations, "station and operator", "station-operator pair", 1)
	t := &Table{Caption: "Standard deviations.", Columns: []Column{{}, {Head: "repeatability", Number: true}, {Head: "between " + by + "s", Number: true}, {Head: "together", Number: true}, {Head: "between boards", Number: true}, {Head: "of the tolerance", Number: true}}, Stack: true}
	for _, g := range r.Gauge {
		q := compare.QuantityOf(g.Quantity)
		optional := func(v *float64) string {
			if v == nil {
				return "none"
			}
			return quantity.Format(quantity.Rounded(*v, 2), q.Unit)
		}
		share := "none"
		if g.Share != nil {
			share = quantity.Relative(*g.Share)
		}
		t.Rows = append(t.Rows, cells(q.Name, optional(&g.Repeatability), optional(g.Reproducibility), optional(&g.Total), optional(g.BoardToBoard), share))
		bars := []picture.Bar{{Name: "Repetition", Value: g.Repeatability}}
		for _, b := range []struct {
			name  string
			value *float64
		}{{"Between " + by + "s", g.Reproducibility}, {"Boards that " + by + "s see differently", g.Interaction}, {"Between boards", g.BoardToBoard}} {
			if b.value != nil {
				bars = append(bars, picture.Bar{Name: b.name, Value: *b.value})
			}
		}
		s.draw(func(id string) picture.Picture {
			return picture.Bars(id, "Spread of the "+q.Name, "Standard deviations. The first bars are the measuring, the last is what it is meant to see.", q.Unit, bars)
		})
	}
	s.table(t, Always)
	g := r.Gauge[0]
	s.say(Sentence, fmt.Sprintf("%d captures of %s on %s. %s", g.Observations, quantity.Plural(g.Boards, "board"), quantity.Plural(g.Count, by), strings.Join(g.Notes, ". ")))
	s.add(Block{Label: "Method", Text: g.Method + ".", Show: Detail})
	return s
}

func lotLots(r *lot.Report) Section {
	s := Section{ID: "lots", Heading: "Lot by lot"}
	t := &Table{Columns: []Column{{Head: "lot", Given: true}, {Head: "result"}, {Head: "boards"}, {}, {Head: "batches out of tolerance"}}}
	for _, l := range r.Lots {
		a := l.Acceptance
		t.Rows = append(t.Rows, []Cell{{Text: l.Lot}, toned(string(a.Result), tones[string(a.Result)]), {Text: countText(l.Boards)}, {Text: fmt.Sprintf("Ac %d, Re %d", a.Accept, a.Reject)}, {Text: movedBatches(l.Parts)}})
	}
	s.table(t, Always)
	return s
}

// lotWithout lists boards without values, and why.
func lotWithout(id, heading string, boards []lot.Failure) Section {
	s := Section{ID: id, Heading: heading}
	for _, f := range boards {
		s.points(f.Board + ": " + f.Error)
	}
	return s
}

// lotChanging are the boards whose times change inside a capture, and how.
func lotChanging(boards []lot.Changing) Section {
	s := Section{ID: "changing", Heading: "Changes inside the capture"}
	for _, b := range boards {
		s.points(b.Board + ": " + movement(&compare.Stability{Changes: b.Changes, Moves: b.Moves, Shots: b.Shots}))
	}
	return s
}

// lotAbout is what an auditor asks of a lot's report.
func lotAbout(r *lot.Report) Section {
	s := Section{ID: "about", Heading: "This report", Show: Detail}
	if r.At == nil {
		return s
	}
	s.say(Sentence, fmt.Sprintf("Decided %s by %s, with offbeat %s.", r.At.UTC().Format(instant), r.DecidedBy, r.Version))
	s.labelled(Sentence, "Design", "SHA-256 "+r.DesignSHA256)
	s.labelled(Sentence, "Options", optionsText(r.Options))
	s.labelled(Sentence, "Instrument", instrumentText(r.Instrument))
	s.labelled(Sentence, "Stations", strings.Join(r.Stations, ", "))
	s.labelled(Sentence, "Operators", strings.Join(r.Operators, ", "))
	return s
}

// lotFiles lists the captures that a lot's report rests on: each by its digest, how it was taken, and the guard band that its
// board was judged with.
func (b *Basis) lotFiles() Section {
	s := Section{ID: "files", Heading: "Captures and guard bands", Show: Detail}
	t := &Table{Columns: []Column{{Head: "board", Name: true, Given: true}, {Head: "guard band", Number: true}, {Head: "capture"}, {Head: "SHA-256"}, {Head: "station, operator, time (UTC), temperature"}}, Stack: true}
	for i := range b.Boards {
		r := &b.Boards[i]
		guard := ""
		if targets := b.targets(); r.Guard > 0 && len(targets) > 0 {
			guard = quantity.Format(quantity.Rounded(r.Guard, 2), compare.QuantityOf(targets[0].Quantity).Unit)
		}
		t.Caption = cmp.Or(t.Caption, r.Rule)
		for _, f := range r.Files {
			var taken []string
			for _, text := range []string{f.Station, f.Operator, timeText(f.Time), temperatureText(f.Temperature)} {
				if text != "" {
					taken = append(taken, text)
				}
			}
			t.Rows = append(t.Rows, cells(r.Board, guard, f.Name, f.SHA256, strings.Join(taken, ", ")))
		}
	}
	s.table(t, Detail)
	return s
}

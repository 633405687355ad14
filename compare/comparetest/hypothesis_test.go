package comparetest

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// The shares of the wrong views, and the resistance of the usual probe at ten to one, which loads the node.
const invertedShare, nodeShare, foreignShare, dividedShare, slipShare, probe = 0.2, 0.13, 0.1, 0.07, 0.33, 10e6

// step turns a number even between 0 and 1 into one more quantity of a board; those before it stand already.
type step func(u float64, s *state)

// hypothesis is a cause with the parts it names: which board it is, how that is drawn, and what the instrument shows of it.
type hypothesis struct {
	Cause string
	Parts []string
	Odds  float64

	wild    string // the part whose reading is wrong
	view    view
	by      float64
	forms   []sight
	parts   int // of the design
	circuit *circuit.Circuit
	start   circuit.Values // what is not drawn
	terms   []circuit.Prior
	steps   []step
	nominal [2]float64 // high and low time of the prediction
}

// recipe is a hypothesis before it is compiled.
type recipe struct {
	cause string
	parts []string
	cards cards
	wild  string // the part whose reading is wrong
	also  string // a part that is out of its tolerance beside the cause
	// fault is the last step, of the part that a fault adds, as a multiple of legs, or as it is where there are none.
	fault  form
	legs   string
	share  float64               // of the cause's odds; 0: all
	own    map[circuit.Slot]form // in place of the terms' priors, in the slots' order
	first  string                // the part that the others go with
	tie    func(s *state)        // what the fault does to a board whose quantities are drawn
	view   view
	forms  []sight // of a capture of something else
	probed bool    // the usual probe is on the node
	by     float64 // what a counter behind the board divides by; 0: there is none
}

// hypotheses lists them all, of each family that may be fitted.
func (p *Problem) hypotheses() ([]*hypothesis, error) { return p.compile(p.recipes()) }

// beside lists those of an explanation with one more part out of its tolerance, of which it does not tell and which nobody read.
func (p *Problem) beside(cause string, parts []string) ([]*hypothesis, error) {
	var all []recipe
	for _, r := range p.recipes() {
		if r.cause != cause || !slices.Equal(slices.Sorted(slices.Values(r.parts)), slices.Sorted(slices.Values(parts))) {
			continue
		}
		for _, q := range p.Design.Parts {
			if !slices.Contains(parts, q.Name) && !slices.Contains(p.Drawing.Idle, q.Name) && !p.isRead(q) {
				r.also = q.Name
				all = append(all, r)
			}
		}
	}
	return p.compile(all)
}

func (p *Problem) compile(recipes []recipe) ([]*hypothesis, error) {
	families := map[string]float64{p.Design.Family: 1}
	if p.Design.AnyFamily {
		families = map[string]float64{fit.Bipolar: 0.6, fit.CMOS: 0.4}
	}
	var all []*hypothesis
	for family, weight := range families {
		for _, r := range recipes {
			h, err := p.hypothesis(r, family, weight)
			if err != nil {
				return nil, fmt.Errorf("%s, %s %v: %w", p.Drawing.Name, r.cause, r.parts, err)
			}
			if h != nil && h.Odds > 0 {
				all = append(all, h)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b *hypothesis) int { return slices.Index(Order, a.Cause) - slices.Index(Order, b.Cause) })
	return all, nil
}

// recipes are the causes that the board can have.
func (p *Problem) recipes() []recipe {
	k, all := p.Drawing, cardsOf(p.Drawing.text())
	out := []recipe{{cause: Nothing}, {cause: Clock}, {cause: Unexplained}}
	out = append(out, p.wrongSignals()...)
	var live []fit.Part
	for _, q := range p.Design.Parts {
		if !slices.Contains(k.Idle, q.Name) {
			live = append(live, q)
		}
	}
	for i, a := range live {
		if p.isRead(a) {
			out = append(out, recipe{cause: Unexplained, wild: a.Name})
		}
		out = append(out, recipe{cause: Shifted, parts: []string{a.Name}}, recipe{cause: OtherValue, parts: []string{a.Name}})
		for _, b := range live[:i] {
			out = append(out, recipe{cause: Shifted, parts: []string{b.Name, a.Name}})
		}
	}
	for i, a := range live {
		for _, b := range live[:i] {
			if a.Kind == b.Kind && (a.Nominal != b.Nominal || a.Minus != b.Minus || a.Plus != b.Plus) {
				out = append(out, recipe{cause: Exchanged, parts: []string{b.Name, a.Name}})
			}
		}
	}
	out = append(out, p.alike()...)
	if len(all) == 0 {
		swing := p.Design.Supply.Value
		weak := weakOutput(uniform(shortest*swing, collectorLost*swing))
		delete(weak[2].own, circuit.OutputLow)
		weak[2].tie = func(s *state) { // of one gain: a swing is as its base's current, until there is no more
			whole, lost := s.v[circuit.Supply]-s.v[circuit.SwitchVoltage], s.v[circuit.OutputDrop]
			if r1, r2 := s.parts[0], s.parts[2]; r1 >= r2 {
				s.v[circuit.OutputLow] = whole - min(whole, (whole-lost)*r1/r2)
			} else {
				s.v[circuit.OutputLow], s.v[circuit.OutputDrop] = lost, whole-min(whole, (whole-lost)*r2/r1)
			}
		}
		weak[2].share /= 2
		half := weak[2]
		half.view = atHalf
		return append(append(out, weak...), half)
	}
	for _, card := range all[1:] {
		name := card[0]
		if slices.Contains(k.Idle, name) {
			continue
		}
		out = append(out, recipe{cause: Missing, parts: []string{name}, cards: all.without(name)})
		if joined := all.joined(name); joined != nil {
			out = append(out, recipe{cause: Bridged, parts: []string{name}, cards: joined})
		}
		if name[0] == 'D' {
			out = append(out, recipe{cause: Reversed, parts: []string{name}, cards: all.turned(name)})
		}
	}
	for _, a := range live {
		for _, turned := range []bool{false, true} {
			if undrawn := all.beside(a.Name, turned); undrawn != nil {
				out = append(out, recipe{cause: Undrawn, parts: []string{a.Name}, cards: undrawn, share: 0.5})
			}
		}
	}
	for _, name := range k.Leaks {
		for _, cause := range []string{Leakage, Aged} {
			out = append(out, recipe{cause: cause, parts: []string{name}, cards: all.across(name), fault: logUniform(leakLow, leakHigh), legs: k.Charging})
		}
	}
	timing := p.Design.Part(k.Leaks[0])
	if grounded := len(k.Leaks) == 1 && slices.Contains(all.card(timing.Name), "ground"); grounded && timing.Low() >= 2*strayHigh {
		out = append(out, recipe{cause: Missing, parts: k.Leaks[:1], fault: logUniform(strayLow, leftHigh)}) // strays in its place
	}
	out = append(out, recipe{cause: Contact, parts: k.Leaks[:1], cards: all.inSeries(k.Leaks[0], k.Node), fault: logUniform(contactLow, contactHigh), legs: k.Charging})
	if strayHigh >= 0.02*p.Design.Part(k.Leaks[0]).Nominal { // below a fiftieth of the capacitor it is nothing against tolerances
		out = append(out, recipe{cause: Stray, cards: all.toGround(k.Node), fault: logUniform(strayLow, strayHigh)})
	}
	return append(out, p.ofDevice(all)...)
}

// weakOutput loses of one level or swing, of the other, or of both.
func weakOutput(lost form) (out []recipe) {
	for i, own := range []map[circuit.Slot]form{{circuit.OutputDrop: lost}, {circuit.OutputLow: lost}, {circuit.OutputDrop: lost, circuit.OutputLow: lost}} {
		out = append(out, recipe{cause: Output, share: []float64{0.4, 0.3, 0.3}[i], own: own})
	}
	return out
}

// ofDevice are the causes that lie in the device, and all resistors off alike.
func (p *Problem) ofDevice(all cards) (out []recipe) {
	k, swing := p.Drawing, p.Design.Supply.Value-p.Design.Minus.Value
	usual, shorter := p.usual()
	add := func(cause string, share float64, own map[circuit.Slot]form) *recipe {
		out = append(out, recipe{cause: cause, share: share, own: own})
		return &out[len(out)-1]
	}
	only := func(slot circuit.Slot, f form) map[circuit.Slot]form { return map[circuit.Slot]form{slot: f} }
	if kind := all[0][1]; kind != wiring.Comparator {
		upper := usual[circuit.Upper]
		add(Thresholds, 0.15, only(circuit.Upper, uniform(controlLow, controlHigh))).tie = func(s *state) { s.v[circuit.Half] *= upper / s.v[circuit.Upper] }
		if !k.OnePulse {
			add(Thresholds, 0.15, only(circuit.Half, uniform(apartLow, apartHigh)))
		}
		add(Thresholds, 0.2, only(circuit.Upper, uniform(upper-trippedHigh, upper-trippedLow))).tie = func(s *state) {
			lower := upper*s.v[circuit.Half] + upper - s.v[circuit.Upper]
			s.v[circuit.Half] = lower / s.v[circuit.Upper]
		}
		if kind == wiring.Timer {
			add(Thresholds, 0.5, only(circuit.Upper, uniform(controlLow, controlHigh)))
		}
	}
	if k.Divider != "" {
		amps := 0. // what moves the reference by all of the supply
		for _, name := range strings.Fields(k.Divider) {
			amps += swing / p.Design.Part(name).Nominal
		}
		for range 2 {
			add(Aside, 0.5, only(circuit.OtherBias, logUniform(asideLow*amps, asideHigh*amps)))
		}
		out[len(out)-1].tie = func(s *state) { s.v[circuit.OtherBias] = -s.v[circuit.OtherBias] }
	}
	lost := uniform(shortest*swing, saturated*swing)
	if k.Path != "" {
		out = append(out, recipe{cause: Discharge, cards: all.behindPin(), fault: logUniform(weakLow, weakHigh), legs: k.Path, share: 0.7})
		add(Discharge, 0.3, only(circuit.SwitchVoltage, lost))
	}
	lag := logUniform(lagLow, lagHigh)
	switch {
	case lagHigh < 0.02*shorter: // it is nothing against tolerances
	case k.OnePulse:
		add(Slow, 1, only(circuit.DelayFall, lag))
	default:
		add(Slow, 0.4, only(circuit.DelayFall, lag))
		add(Slow, 0.3, only(circuit.DelayRise, lag))
		add(Slow, 0.3, map[circuit.Slot]form{circuit.DelayFall: lag, circuit.DelayRise: lag})
	}
	if all.ends("output") > 2 { // something hangs on it
		out = append(out, weakOutput(lost)...)
	}
	full := swing / 3 / p.nominalCharging()
	size := only(circuit.Bias, logUniform(currentLow*full, currentHigh*full))
	add(Current, 0.5, size)
	add(Current, 0.5, size).tie = func(s *state) { s.v[circuit.Bias] = -s.v[circuit.Bias] }
	return out
}

// alike are all resistors off by one factor: by that of the first, or of the one that was read.
func (p *Problem) alike() []recipe {
	first, with := -1, []int{}
	for i, q := range p.Design.Parts {
		if q.Kind != fit.Resistor || slices.Contains(p.Drawing.Idle, q.Name) {
			continue
		}
		if with = append(with, i); first < 0 || p.isRead(q) {
			first = i
		}
	}
	if len(with) < 2 {
		return nil
	}
	nominal := p.Design.Parts[first].Nominal
	return []recipe{{cause: Resistors, first: p.Design.Parts[first].Name, tie: func(s *state) {
		for _, i := range with {
			if i != first {
				s.parts[i] *= s.parts[first] / nominal
			}
		}
	}}}
}

// usual are the board's values at its nominals, and the shorter of its times there.
func (p *Problem) usual() (v circuit.Values, shorter float64) {
	c, err := circuit.Of(&p.Design)
	if err == nil {
		v, err = c.Typical(&p.Design)
	}
	if err != nil {
		return v, math.NaN()
	}
	high, low, _ := c.Times(&v)
	if p.Drawing.OnePulse {
		low = high
	}
	return v, min(high, low)
}

// Order of the causes, for a reader.
var Order = []string{Nothing, Shifted, OtherValue, Exchanged, Missing, Bridged, Reversed, Undrawn, Leakage, Aged, Contact, Stray, Thresholds,
	Aside, Discharge, Slow, Output, Current, Resistors, Clock, WrongSignal, Unexplained}

// hypothesis compiles a recipe; nil where a rewired board does not run.
func (p *Problem) hypothesis(r recipe, family string, weight float64) (*hypothesis, error) {
	d := p.Design
	d.Family, d.Parts = family, slices.Clone(d.Parts)
	h := &hypothesis{Cause: r.cause, Parts: r.parts, Odds: weight * p.odds(r.cause, r.parts), wild: r.wild, parts: len(d.Parts)}
	if x, stated := d.Odds[Keys[Unexplained]]; r.wild != "" && !stated {
		h.Odds = weight * misread
	} else if r.wild != "" {
		h.Odds = weight * min(x, misread)
	}
	if r.share > 0 {
		h.Odds *= r.share
	}
	for _, q := range d.Parts {
		if p.isRead(q) && p.loose(r, q) || r.also == q.Name {
			odds := p.odds(Shifted, []string{q.Name})
			if r.also != q.Name {
				odds++
			}
			h.Odds *= odds
		}
	}
	rewired := slices.Contains([]string{Missing, Bridged, Reversed, Undrawn}, r.cause)
	if rewired && r.cause != Undrawn && r.cards != nil && slices.ContainsFunc(d.Readings, func(q fit.Reading) bool { return q.Name == r.parts[0] }) {
		h.Odds *= readOpen
	}
	if r.cards != nil {
		d.Circuit, d.Parts = "", append(d.Parts, p.added(r)...)
		if r.cause == Undrawn {
			d.Diodes = append(slices.Clone(d.Diodes), fit.Diode{Name: faultyDiode, Drop: fit.Reading{Value: 0.6, Half: 0.15}})
		}
		for node, share := range p.Drawing.Shares {
			d.Nodes = append(slices.Clone(d.Nodes), fit.Node{Reading: fit.Reading{Name: node, Value: share}, Ratio: true})
		}
		w, err := wiring.Parse(r.cards.text(), held(&d)...)
		if err != nil && rewired {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		d.Wiring = w
	}
	c, err := circuit.Of(&d)
	if err != nil && rewired {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	h.circuit = c
	if rewired && c.Latch {
		return nil, nil
	}
	if h.start, err = c.Typical(&d); err != nil {
		return nil, err
	}
	if h.terms, err = c.Beliefs(&d); err != nil {
		return nil, err
	}
	high, low, ok := c.Times(&h.start)
	if rewired && (!ok || c.OnePulse != p.Drawing.OnePulse) {
		return nil, nil
	}
	if r.cause == Undrawn && p.sounds(family, high, low) { // it never conducts
		return nil, nil
	}
	h.nominal = [2]float64{high, low}
	if r.cause == Unexplained && !ok {
		return nil, fmt.Errorf("the board does not run at its nominal values")
	}
	p.draws(h, r, &d)
	return h, nil
}

// sounds says whether these are the times of the drawing's own board at its nominal values.
func (p *Problem) sounds(family string, high, low float64) bool {
	d := p.Design
	d.Family = family
	c, err := circuit.Of(&d)
	if err != nil {
		return false
	}
	v, err := c.Typical(&d)
	h, l, _ := c.Times(&v)
	return err == nil && math.Abs(high/h-1) < 1e-9 && math.Abs(low/l-1) < 1e-9
}

// added is the part that the fault brings, at a value that counts for little until it is drawn.
func (p *Problem) added(r recipe) []fit.Part {
	switch {
	case r.fault == nil:
		return []fit.Part{{Name: idleResistor, Kind: fit.Resistor, Nominal: 1e3}}
	case r.cause == Stray:
		return []fit.Part{{Name: faultyCapacitor, Kind: fit.Capacitor, Nominal: strayHigh}}
	}
	return []fit.Part{{Name: faultyResistor, Kind: fit.Resistor, Nominal: r.fault(0.5) * p.nominalCharging()}}
}

// draws lists the steps of a hypothesis: parts, second-order terms, supply, clock, and the fault itself.
func (p *Problem) draws(h *hypothesis, r recipe, d *fit.Design) {
	for i, q := range p.Design.Parts {
		draw := p.part(r, q)
		slot, there := h.circuit.Slot(q.Name)
		h.steps = append(h.steps, func(u float64, s *state) {
			s.parts[i] = draw(u)
			if there {
				s.v[slot] = s.parts[i]
			}
		})
	}
	for _, q := range h.terms {
		draw, slot := term(q), q.Slot
		if _, own := r.own[slot]; !own {
			h.add(slot, draw)
		}
	}
	for _, slot := range slices.Sorted(maps.Keys(r.own)) {
		h.add(slot, r.own[slot])
	}
	if d.Supply.Half > 0 || d.Supply.Standard > 0 {
		h.add(circuit.Supply, reading(d.Supply))
	}
	switch limit := p.Measured.Clock; {
	case r.cause == Clock:
		h.add(circuit.Clock, normal(0, clockSpread))
	case limit > 0 && (r.cause != Unexplained || r.wild != ""):
		h.add(circuit.Clock, uniform(-limit, limit))
	}
	if r.fault != nil && r.cards != nil {
		name := faultyResistor
		if r.cause == Stray {
			name = faultyCapacitor
		}
		slot, _ := h.circuit.Slot(name)
		legs := p.legs(r.legs, h.circuit)
		h.steps = append(h.steps, func(u float64, s *state) {
			s.v[slot] = r.fault(u)
			if legs != nil {
				s.v[slot] *= ohms(legs, s)
			}
		})
	}
	if r.tie != nil {
		_, own := r.own[circuit.Half]
		drawn := own || slices.ContainsFunc(h.terms, func(q circuit.Prior) bool { return q.Slot == circuit.Half })
		h.steps = append(h.steps, func(_ float64, s *state) {
			if !drawn { // a tie moves it from where it is
				s.v[circuit.Half] = h.start[circuit.Half]
			}
			r.tie(s)
			for i, q := range p.Design.Parts {
				if slot, there := h.circuit.Slot(q.Name); there {
					s.v[slot] = s.parts[i]
				}
			}
		})
	}
	h.view, h.by, h.forms = r.view, r.by, r.forms
	if r.probed {
		h.steps = append(h.steps, func(_ float64, s *state) { s.v[circuit.LeakRatio] = probe / p.nominalCharging() })
	}
}

// wrongSignals are the sights in which a capture is not of the output, with their shares of what the board can show.
func (p *Problem) wrongSignals() []recipe {
	half := func(high, low float64) float64 {
		if p.Drawing.OnePulse {
			return high
		}
		return (high + low) / 2
	}
	var mains []sight
	for _, hertz := range []float64{50, 60, 100, 120} {
		sd := 0.015
		if hertz > 60 {
			sd = 0.05
		}
		mains = append(mains, sight{0.125, [3]float64{sd, sd, 0}, func(_, _ float64) (float64, float64) { return 0.5 / hertz, 0.5 / hertz }})
	}
	mains = append(mains, sight{0.5, [3]float64{0.02, 0.02, 5}, func(high, low float64) (float64, float64) { return half(high, low), half(high, low) }})
	out := []recipe{{share: foreignShare, forms: mains}}
	for _, s := range [][2]float64{{1e-6, 0.1}, {1e-3, 0.4}, {1e3, 0.4}, {1e6, 0.1}} {
		of := func(high, low float64) (float64, float64) { return s[0] * high, s[0] * low }
		out = append(out, recipe{share: slipShare * s[1], forms: []sight{{0.7, [3]float64{0.01, 0.01, 0}, of}, {0.3, [3]float64{0.2, 0.2, 0.2}, of}}})
	}
	if !p.Drawing.OnePulse {
		out = append(out, p.twoTimes(half)...)
	}
	sum := 0.
	for i := range out {
		sum += out[i].share
	}
	for i := range out {
		out[i].cause, out[i].share = WrongSignal, out[i].share/sum
	}
	return out
}

// twoTimes are the sights that show in two times.
func (p *Problem) twoTimes(half func(high, low float64) float64) []recipe {
	out := []recipe{{share: invertedShare, view: inverted}}
	var near []sight
	for _, d := range [][2]float64{{2, 0.4}, {4, 0.2}, {8, 0.1}, {10, 0.2}, {16, 0.1}} {
		if by := d[0]; p.Drawing.text() == "" { // within a hundredth of even
			near = append(near, sight{d[1], [3]float64{0.01, 0.01, 0}, func(high, low float64) (float64, float64) { return by * half(high, low), by * half(high, low) }})
			continue
		}
		out = append(out, recipe{share: dividedShare * d[1], by: d[0]})
	}
	if near != nil {
		out = append(out, recipe{share: dividedShare, forms: near})
	}
	switch k := probe / p.nominalCharging(); {
	case p.Drawing.Views == 2 && k > leakLow && k < leakHigh:
		out = append(out, recipe{share: nodeShare / 2, view: ofNode}, recipe{share: nodeShare / 2, view: ofNode, probed: true})
	case p.Drawing.Views == 2:
		out = append(out, recipe{share: nodeShare, view: ofNode})
	case p.Drawing.Views == 1 && p.Drawing.Node != "": // from a third of what it runs to over a half to two thirds
		end := math.Log(1.5) / math.Ln2
		out = append(out, recipe{share: nodeShare, forms: []sight{{1, [3]float64{0.05, 0.05, 0}, func(high, low float64) (float64, float64) {
			return end*high + (1-end)*low, end*low + (1-end)*high
		}}}})
	}
	return out
}

// sight is a form of what a capture of something else shows of a board's times: its share, the standard deviations as in odd, and
// what it lies about.
type sight struct {
	share float64
	sd    [3]float64
	of    func(high, low float64) (float64, float64)
}

// nominalCharging is what the timing capacitor charges through by the drawing, a potentiometer at its middling position.
func (p *Problem) nominalCharging() float64 {
	sum := 0.
	for _, q := range p.Design.Parts {
		at := cmp.Or(q.Position.Value, 0.5)
		switch {
		case strings.Contains(p.Drawing.Charging, ":"+q.Name):
			sum += (1 - at) * q.Nominal
		case strings.Contains(p.Drawing.Charging, q.Name+":"):
			sum += at * q.Nominal
		case strings.Contains(p.Drawing.Charging, q.Name):
			sum += q.Nominal
		}
	}
	return sum
}

func (h *hypothesis) add(slot circuit.Slot, draw form) {
	h.steps = append(h.steps, func(u float64, s *state) { s.v[slot] = draw(u) })
}

// isRead says whether a part is read.
func (p *Problem) isRead(q fit.Part) bool {
	return slices.ContainsFunc(p.Design.Readings, func(r fit.Reading) bool { return r.Name == q.Name })
}

// loose says whether a part may be out of its tolerance beside the cause: one that is read, where the cause is none of the values of
// parts alone, or any that has a bearing where the cause is not known.
func (p *Problem) loose(r recipe, q fit.Part) bool {
	switch idle := slices.Contains(p.Drawing.Idle, q.Name); {
	case idle:
		return false
	case r.wild != "":
		return p.isRead(q) && q.Name != r.wild
	}
	switch r.cause {
	case Unexplained:
		return true
	case Nothing, Resistors:
		return false
	case Shifted:
		return p.isRead(q) && len(r.parts) == 2 && !slices.Contains(r.parts, q.Name)
	case OtherValue, Exchanged, Aged:
		return p.isRead(q) && !slices.Contains(r.parts, q.Name)
	case Missing:
		return p.isRead(q) && !(r.fault != nil && r.parts[0] == q.Name)
	}
	return p.isRead(q)
}

// part is the prior of what sits in a part's place.
func (p *Problem) part(r recipe, q fit.Part) form {
	if r.first == q.Name {
		return shifted(q)
	}
	switch {
	case r.also == q.Name:
		return shifted(q)
	case p.loose(r, q):
		return eitherOf(inTolerance(q), shifted(q), p.odds(Shifted, []string{q.Name}))
	case !slices.Contains(r.parts, q.Name):
		return inTolerance(q)
	}
	switch r.cause {
	case Missing:
		if r.fault != nil {
			return r.fault
		}
	case Shifted:
		return shifted(q)
	case Aged:
		return aged(q)
	case OtherValue:
		return other(q)
	case Exchanged:
		other := r.parts[0]
		if other == q.Name {
			other = r.parts[1]
		}
		return inTolerance(*p.Design.Part(other))
	}
	return inTolerance(q)
}

// state is a board of which nothing is drawn yet.
func (h *hypothesis) state() *state {
	return &state{parts: make([]float64, h.parts), v: h.start, view: h.view}
}

// draw makes a board of numbers even between 0 and 1, one a step: each step says its quantity whatever it was before.
func (h *hypothesis) draw(u []float64, s *state) {
	for i, step := range h.steps {
		step(u[i], s)
	}
}

// shown are the times that the instrument shows of a board.
func (h *hypothesis) shown(s *state) (high, low float64, ok bool) {
	switch s.view {
	case inverted:
		low, high, ok = h.circuit.Times(&s.v)
	case ofNode:
		high, low, ok = h.midway(&s.v)
	case atHalf:
		high, low, ok = h.circuit.Times(&s.v)
		if t := s.pulledBelow(); t < low {
			high, low = high+low-t, t
		}
	default:
		high, low, ok = h.circuit.Times(&s.v)
	}
	high, low = h.counted(high, low)
	return high, low, ok && high > 0 && (low > 0 || h.circuit.OnePulse)
}

// counted are the halves of a counter behind the board, where there is one.
func (h *hypothesis) counted(high, low float64) (float64, float64) {
	if h.by == 0 {
		return high, low
	}
	return h.by * (high + low) / 2, h.by * (high + low) / 2
}

// pulledBelow is how long the output's transistor of a multivibrator, of a gain that leaves its collector a swing below half the
// supply, pulls it below that: as long as its base gets so much more than its resistor's current.
func (s *state) pulledBelow() float64 {
	whole := s.v[circuit.Supply] - s.v[circuit.SwitchVoltage]
	own, other, rc := whole-s.v[circuit.OutputDrop], whole-s.v[circuit.OutputLow], s.v[circuit.Collector]
	if own >= s.v[circuit.Supply]/2 || rc == 0 {
		return math.Inf(1)
	}
	usual := (s.v[circuit.Supply] - s.v[circuit.BaseEmitter]) / s.parts[0]
	needed := usual * (s.v[circuit.Supply]/2/own - 1) // beyond the usual
	return rc * s.parts[1] * math.Log(other/rc/needed) * math.Exp(s.v[circuit.Clock])
}

// midway are the times that the capacitor's node spends above and below the middle of its swing: those above are the cycle
// of a board whose lower threshold lies there and that runs back without a delay, those below of one whose upper one does.
func (h *hypothesis) midway(v *circuit.Values) (above, below float64, ok bool) {
	k := h.circuit.Curve(v)
	middle := (k.Peak + k.Valley) / 2
	upper, lower := *v, *v
	upper[circuit.Half], upper[circuit.DelayRise] = middle/k.Upper, 0
	lower[circuit.Upper], lower[circuit.Half], lower[circuit.DelayFall] = middle/v[circuit.Supply], k.Lower/middle, 0
	rise, fall, up := h.circuit.Times(&upper)
	on, off, down := h.circuit.Times(&lower)
	return rise + fall, on + off, up && down
}

// likelihood of what was measured and read for a board.
func (h *hypothesis) likelihood(t *times, s *state, readings []read) float64 {
	l := 0.
	high, low, ok := h.shown(s)
	switch {
	case !ok:
	case h.Cause == Unexplained && h.wild == "":
		for i := range t.misfit {
			l += t.misfit[i].share * t.misfit[i].times.density(high, low)
		}
	case h.forms != nil:
		for _, f := range h.forms {
			if wide, err := t.wider(f.sd); err == nil {
				l += f.share * wide.density(f.of(high, low))
			}
		}
	default:
		l = t.density(high, low)
	}
	if math.IsNaN(l) {
		return 0
	}
	for i := range readings {
		if r := readings[i].Reading; r.Name == h.wild {
			l *= (2*r.Half + math.Sqrt(2*math.Pi)*r.Standard) / r.Value / math.Log(wildRange)
		} else {
			l *= likelihood(r, s.parts[readings[i].part])
		}
	}
	return l
}

// read is a direct reading of a part.
type read struct {
	fit.Reading
	part int
}

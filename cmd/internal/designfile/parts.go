package designfile

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// The keys of a part, or of a diode, written as a table.
var (
	fields      = []string{"value", "tolerance", "kind", "tempco", "position"}
	diodeFields = []string{"kind", "drop"}
)

// parts reads every part of the circuit, in the circuit's order.
func (b *builder) parts() error {
	if err := b.checkTolerances(); err != nil {
		return err
	}
	var missing []string
	for _, spec := range b.subject.parts {
		p := fit.Part{Name: spec.Name, Kind: spec.Kind}
		got, err := b.fieldsOf(spec.Name, fields)
		if err != nil {
			return err
		}
		if got["value"] == nil {
			missing = append(missing, spec.Name)
			continue
		}
		if err := b.part(&p, got); err != nil {
			return err
		}
		b.design.Parts = append(b.design.Parts, p)
	}
	if len(missing) > 0 {
		do := "add to [parts] a line such as " + exampleOf(missing[0])
		if b.top.typed {
			do = "add --part " + missing[0] + "=VALUE"
		}
		at := b.top
		if e := b.entryOf("wiring"); e != nil {
			if c := b.design.Wiring.Card(missing[0]); c != nil {
				at = e.card(c.Line, c.Column)
			}
		}
		return at.fail(fmt.Sprintf("the %s needs %s", b.subject.name, strings.Join(missing, " and ")), "the parts "+strings.Join(b.subject.names(), ", "), do)
	}
	for _, name := range b.subject.diodes {
		got, err := b.fieldsOf(name, diodeFields)
		if err == nil {
			err = b.diode(name, got)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func exampleOf(part string) string {
	if strings.HasPrefix(part, "C") {
		return part + ` = "100n ± 10 %"`
	}
	return part + ` = "10k ± 1 %"`
}

// fieldsOf finds the entries of one part: its value alone, or those of its table.
func (b *builder) fieldsOf(name string, fields []string) (map[string]*entry, error) {
	got := map[string]*entry{}
	for i := range b.entries {
		e := &b.entries[i]
		if table(e) != "parts" || e.kind == header || e.path[1] != name {
			continue
		}
		field := "value"
		if len(e.path) > 2 {
			field = e.path[2]
		}
		if len(e.path) > 3 || len(e.path) > 2 && !slices.Contains(fields, field) {
			return nil, b.unknown(e, e.last(), fields)
		}
		if was := got[field]; was != nil && was.at.line != 0 {
			return nil, e.key.fail(name+" is given twice", "one value", "")
		}
		got[field] = e
	}
	if w := b.design.Wiring; w != nil {
		if e := b.onCard(w.Card(name)); e != nil {
			if got["value"] != nil {
				return nil, got["value"].key.fail(name+" has its value twice, here and on its card", "one of the two", "")
			}
			got["value"] = e
		}
	}
	return got, nil
}

// usual is the tolerance of a part that has none in the design (common practice).
func usual(p *fit.Part) float64 {
	switch {
	case p.Kind == fit.Resistor:
		return 0.05
	case cause.Classes[p.Class] == "electrolytic":
		return 0.20
	}
	return 0.10
}

// usualIn is the tolerance of a capacitor or resistor of a netlist, which holds none (common practice).
var usualIn = map[fit.PartKind]float64{fit.Resistor: 0.05, fit.Capacitor: 0.20}

// toleranceOf is the tolerance of a part that has none of its own: as typed, else the usual one, which is said.
func (b *builder) toleranceOf(p *fit.Part) (quantity.Tolerance, error) {
	letter := map[fit.PartKind]string{fit.Resistor: "R", fit.Capacitor: "C"}[p.Kind]
	for _, typed := range b.tolerances {
		name, value, _ := strings.Cut(typed, "=")
		if strings.EqualFold(strings.TrimSpace(name), letter) {
			e := entry{path: []string{"tolerance", letter}, value: value, plain: true, at: place{file: "--tolerance", text: typed, offset: len(name) + 1, typed: true}}
			t, err := quantity.ParseTolerance(value, p.Nominal, p.Kind.Unit())
			return t, e.locate(err)
		}
	}
	x, guess := usual(p), ""
	if IsNetlist(b.design.File) {
		x, guess = usualIn[p.Kind], " (a guess; --tolerance "+letter+"=… says it)"
	}
	b.note("%s: no tolerance given, taken as ± %s %%%s", p.Name, quantity.Exact(100*x), guess)
	return quantity.Tolerance{Minus: x, Plus: x, Relative: true}, nil
}

// checkTolerances refuses a --tolerance that names neither kind of part.
func (b *builder) checkTolerances() error {
	for _, typed := range b.tolerances {
		name, value, found := strings.Cut(typed, "=")
		if k := strings.ToUpper(strings.TrimSpace(name)); !found || strings.TrimSpace(value) == "" || k != "R" && k != "C" {
			return place{file: "--tolerance", text: typed, typed: true}.fail(quoted(typed)+" is no tolerance of a kind of part", "R=1% or C=10%", "")
		}
	}
	return nil
}

// part fills in one part from its entries.
func (b *builder) part(p *fit.Part, got map[string]*entry) error {
	unit := p.Kind.Unit()
	q, err := got["value"].quantity(unit)
	if err != nil {
		return err
	}
	p.Nominal = q.Value
	t := q.Tolerance
	if e := got["tolerance"]; e != nil {
		if t.Given() {
			return e.key.fail(p.Name+" has its tolerance twice", "one of them", "")
		}
		if t, err = quantity.ParseTolerance(e.value, q.Value, unit); err != nil {
			return e.locate(err)
		}
		got["value"] = e
	}
	if t.Coverage > 0 {
		return got["value"].at.fail(p.Name+": a coverage factor on a part's tolerance", "limits, such as ± 1 %", "a reading of the part goes into [readings]")
	}
	if e := got["kind"]; e != nil {
		if p.Class, err = e.word(Kinds(p.Kind)); err != nil {
			return err
		}
	} else if p.Kind == fit.Capacitor {
		b.note("%s: no kind given, taken as a film capacitor", p.Name)
	}
	if e := got["tempco"]; e != nil {
		k, err := e.quantity(quantity.PerKelvin)
		if err != nil {
			return err
		}
		p.Tempco = k.Value
	}
	if !t.Given() {
		if t, err = b.toleranceOf(p); err != nil {
			return err
		}
	}
	p.Minus, p.Plus = t.RelativeTo(p.Nominal)
	if w := b.design.Wiring; w != nil {
		if c := w.Card(p.Name); c.Kind == wiring.Potentiometer {
			p.Class = "potentiometer"
			if !c.Variable() {
				return b.track(p, got["position"])
			}
		}
	}
	return b.wiper(p, got["position"])
}

// leastTravel is the part of a potentiometer's track that an unknown wiper leaves in circuit at least: the end
// resistance (common practice).
const leastTravel = 0.01

// wiper turns a potentiometer, used as a variable resistor, into the resistance that its wiper leaves in
// circuit: nominal at the stated position, or half the track when nobody read the wiper, with limits from one
// end of the travel to the other.
func (b *builder) wiper(p *fit.Part, e *entry) error {
	if p.Class != "potentiometer" {
		if e != nil {
			return e.key.fail(p.Name+" has a position but is no potentiometer", `kind = "potentiometer" beside it`, "")
		}
		return nil
	}
	low, high := p.Low(), p.High()
	p.Track = fit.Reading{Name: p.Name, Value: p.Nominal, Half: (high - low) / 2}
	at, from, to := 0.5, leastTravel, 1.0
	if e == nil || e.value == "unknown" {
		b.note("%s: wiper position unknown, so it may be anything up to its full %s", p.Name, quantity.Format(p.Nominal, quantity.Ohm))
	} else {
		q, err := e.quantity(quantity.Number)
		if err != nil {
			return err
		}
		at = q.Value
		from, to = q.Limits()
		if to > 1 {
			return e.at.fail(e.name()+" reaches beyond the end of the track", "a position up to 100 %", "")
		}
		from = max(from, leastTravel)
		p.Position = fit.Reading{Name: p.Name, Value: at, Half: (to - from) / 2}
	}
	p.Nominal *= at
	p.Minus, p.Plus = 1-low*from/p.Nominal, high*to/p.Nominal-1
	return nil
}

// resistorClasses are what a resistor may be called; their prior odds are the same.
var resistorClasses = []string{"metal film", "carbon film", "carbon composition", "thick film", "wirewound", "potentiometer"}

// Kinds are what a part of a design may be called. A capacitor's are those that belong to a class with odds.
func Kinds(k fit.PartKind) []string {
	if k == fit.Resistor {
		return resistorClasses
	}
	return slices.Sorted(maps.Keys(cause.Classes))
}

func (b *builder) reading(e *entry) error {
	unit := quantity.Volt
	if i := slices.IndexFunc(b.design.Parts, func(p fit.Part) bool { return p.Name == e.path[1] }); i >= 0 {
		unit = b.design.Parts[i].Kind.Unit()
	}
	r, err := signed(e, e.path[1], unit, true)
	if err != nil {
		return err
	}
	if r.Name == wiring.Minus {
		b.design.Minus = r
		return nil
	}
	for i := range b.design.Nodes {
		if n := &b.design.Nodes[i]; n.Name == r.Name {
			*n = fit.Node{Reading: r} // a reading of a held node says more than the design
			return nil
		}
	}
	b.design.Readings = append(b.design.Readings, r)
	return nil
}

// readable are the nodes that a meter's reading says something of.
func (b *builder) readable() []string {
	if w := b.design.Wiring; w != nil {
		return w.StillNodes()
	}
	if c, err := circuit.Lookup(b.design.Circuit); err == nil {
		return c.Still()
	}
	return nil
}

// drawn is the wiring of the design or of the circuit that it names; nil: it has none.
func (b *builder) drawn() *wiring.Wiring {
	if c, err := circuit.Lookup(b.design.Circuit); err == nil {
		return c.Wiring
	}
	return b.design.Wiring
}

// swinging is the fault of a reading of a node whose voltage does not stand still; nil where there is no such node.
func (b *builder) swinging(e *entry, readable []string) error {
	w := b.drawn()
	if w == nil {
		return nil
	}
	n, ok := w.Node(e.path[1])
	if !ok || slices.Contains(readable, n) {
		return nil
	}
	what, do := "the voltage of the node "+n+" does not stand still while the board runs, so that no meter's reading tells it", "capture it beside the output: --channel out=NAME --channel cap=NAME"
	if !w.Swings(n) {
		what, do = "the node "+n+" has no bearing on the times", ""
	}
	return e.key.fail(what, "a part, or one of the nodes "+strings.Join(readable, ", "), do)
}

// nodeNames are the nodes that the design holds.
func (b *builder) nodeNames() (names []string) {
	for i := range b.entries {
		if e := &b.entries[i]; table(e) == "nodes" && e.kind != header && len(e.path) == 2 {
			names = append(names, e.path[1])
		}
	}
	return names
}

// targets are the quantities that a design may aim at.
var targets = []string{"frequency", "period", "high_time", "low_time", "duty_factor"}

// target reads a wanted quantity.
func (b *builder) target(e *entry) error {
	t, err := b.limited(e, "target")
	b.design.Targets = append(b.design.Targets, t)
	return err
}

// was reads what the board used to show.
func (b *builder) was(e *entry) error {
	t, err := b.limited(e, "was")
	b.design.Was = append(b.design.Was, t)
	return err
}

// wasDone refuses a board that is new and used to be right, and says what is asked of the other.
func (b *builder) wasDone() error {
	if len(b.design.Was) > 0 {
		b.note("was: taken as the baseline: the question is what has moved since")
	}
	if len(b.design.Was) > 0 && b.design.History == fit.New {
		return b.top.fail(`history is "new", and [was] says what the board used to show`, `history = "worked", or no [was]`, "")
	}
	return nil
}

// limited reads a quantity of the output with its limits, for a table of such.
func (b *builder) limited(e *entry, table string) (fit.Target, error) {
	t := compare.QuantityOf(e.path[1])
	q, err := e.quantity(t.Unit)
	if err != nil {
		return fit.Target{}, err
	}
	low, high := q.Limits()
	switch {
	case b.subject.onePulse && t.Key != "high_time":
		err = e.key.fail("the "+b.subject.name+" has no "+t.Key, table+".high_time", "")
	case !q.Tolerance.Given():
		err = e.at.fail(e.name()+" has no limits", fmt.Sprintf("%q", strings.TrimSpace(e.value)+" ± 3 %"), "")
	case q.Tolerance.Coverage > 0:
		err = e.at.fail(e.name()+": a coverage factor on a "+map[string]string{"target": "target", "was": "quantity of [was]"}[table], "limits, such as ± 3 %", "")
	case t.Key == "duty_factor" && high >= 1:
		err = e.at.fail(e.name()+" reaches up to "+quantity.Format(high, quantity.Number), "limits below 100 %", "")
	}
	if err == nil && t.Key == "duty_factor" && q.Tolerance.Relative {
		b.note("%s duty_factor: the tolerance is relative, so %s … %s", table, quantity.Format(low, t.Unit), quantity.Format(high, t.Unit))
	}
	return fit.Target{Quantity: t.Key, Value: q.Value, Low: low, High: high}, err
}

// plainNumber reads odds: a number from 0 up.
func (e *entry) plainNumber() (float64, error) {
	x, err := strconv.ParseFloat(strings.ReplaceAll(e.value, "_", ""), 64)
	if e.kind != number || err != nil || math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
		return 0, e.at.fail(e.name()+" = "+e.value+" is no odds", "a number from 0 up, such as 0.05; 0 leaves the cause out", "")
	}
	return x, nil
}

// largestCapacitor is where a value without a unit can no longer be a capacitance, in farad; ohms are the marks by which
// a value may be a resistance.
const (
	largestCapacitor = 1.0
	ohms             = "kMGRΩΩo"
)

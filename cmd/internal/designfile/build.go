package designfile

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Read reads a design file; what a flag says takes the place of what the file says. An empty name means
// that the flags alone are the design.
func Read(name string, f Flags) (*fit.Design, error) {
	d, _, err := ReadSession(name, f)
	return d, err
}

// ReadSession does what Read does, and lists the evidence that the file names.
func ReadSession(name string, f Flags) (*fit.Design, []Evidence, error) {
	if name == "" {
		d, _, err := ReadFrom(name, strings.NewReader(""), f)
		return d, nil, err
	}
	r, err := os.Open(name)
	if err != nil {
		return nil, nil, unreadable(name, err)
	}
	defer r.Close()
	return ReadFrom(name, r, f)
}

// ReadFrom does what ReadSession does, from a stream; name is used in messages and leads to the captures.
func ReadFrom(name string, r io.Reader, f Flags) (*fit.Design, []Evidence, error) {
	typed, err := f.entries()
	if err != nil {
		return nil, nil, err
	}
	b := newBuilder(name, nil)
	b.tolerances = f.Tolerances
	switch {
	case name == "":
		b.top = place{file: "the flags", typed: true}
	case IsNetlist(name):
		d, w, err := readNetlist(name, r)
		if err != nil {
			return nil, nil, err
		}
		b.entries, b.design.Notes = d.entries, d.notes
		b.design.Title, b.design.Wiring, b.subject = w.Title, w, ofWiring(w)
	default:
		if b.entries, err = read(name, r); err != nil {
			return nil, nil, err
		}
	}
	evidence, err := b.evidence()
	if err != nil {
		return nil, nil, err
	}
	b.entries = override(b.entries, typed)
	d, err := b.build()
	if err == nil {
		err = looks(evidence, d)
	}
	return d, evidence, err
}

// into reads a value to where it belongs.
func into[T any](to *T, read func(e *entry) (T, error)) func(*entry) error {
	return func(e *entry) (err error) {
		*to, err = read(e)
		return err
	}
}

// alike are keys that are all read in one way.
func alike(names []string, read func(*entry) error) (out []key) {
	for _, n := range names {
		out = append(out, key{n, read})
	}
	return out
}

// newBuilder begins a design of the name from its entries.
func newBuilder(name string, entries []entry) *builder {
	b := &builder{design: &fit.Design{File: name}, top: place{file: name}, entries: entries}
	b.rooms = func() []room { return roomsOf(b) }
	return b
}

// roomsOf lists the tables of a design. The circuit, at the top, comes first: it says which parts there are.
func roomsOf(b *builder) []room {
	d, parts := b.design, b.subject.names()
	word := func(list ...string) func(*entry) (string, error) {
		return func(e *entry) (string, error) { return e.word(list) }
	}
	return []room{
		{"", []key{{"title", b.title}, {"circuit", b.circuit}, {"wiring", b.wire},
			{"supply", into(&d.Supply, func(e *entry) (fit.Reading, error) { return reading(e, "supply", quantity.Volt, false) })},
			{"minus", b.minus}, {"history", into(&d.History, word(fit.New, fit.Worked))}}, b.generalDone},
		{"nodes", alike(b.nodeNames(), b.node), nil},
		{"parts", alike(parts, nil), b.parts},
		{"timer", []key{{"family", into(&d.Family, func(e *entry) (string, error) { return e.word(b.subject.families) })},
			{"upper", into(&d.Upper, b.threshold)}, {"lower", into(&d.Lower, b.threshold)},
			{"output_high", into(&d.OutputHigh, output)}, {"output_low", into(&d.OutputLow, output)},
			{"inputs", into(&d.Inputs, word(fit.ActiveLow, fit.ActiveHigh))}}, b.timerDone},
		{"target", alike(targets, b.target), nil},
		{"was", alike(targets, b.was), b.wasDone},
		{"instrument", []key{{"clock", b.clock}, {"name", b.instrument}, {"calibrated", b.calibrated},
			{"channel_scale", into(&d.Scale, func(e *entry) (float64, error) { return e.limit("such as 3 %") })},
			{"channel_zero", into(&d.Zero, func(e *entry) (float64, error) { return e.limit("such as 1 % of the supply") })}}, b.clockDone},
		{"readings", alike(append(slices.Clone(parts), b.readable()...), b.reading), nil},
		{"odds", alike(oddsKeys(), b.odds), nil},
	}
}

func (b *builder) build() (*fit.Design, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	for i := range b.rooms() {
		if err := b.fill(b.rooms()[i]); err != nil { // anew, since the circuit is known after the first
			return nil, err
		}
	}
	return b.design, b.runs()
}

// fill reads the keys of one table.
func (b *builder) fill(r room) error {
	for i := range b.entries {
		e := &b.entries[i]
		if table(e) != r.table || e.kind == header && len(e.path) == 1 {
			continue
		}
		if err := b.keyIn(e, r); err != nil {
			return err
		}
		if e.kind == header {
			continue
		}
		if err := b.suits(e); err != nil {
			return err
		}
		if k := slices.IndexFunc(r.keys, func(k key) bool { return k.name == e.path[min(1, len(e.path)-1)] }); r.keys[k].read != nil {
			if err := r.keys[k].read(e); err != nil {
				return err
			}
		}
	}
	if r.done == nil {
		return nil
	}
	return r.done()
}

// known finds keys at the top and tables that no design has.
func (b *builder) known() error {
	var tables []string
	for _, r := range b.rooms()[1:] {
		tables = append(tables, r.table)
	}
	all := append(b.rooms()[0].names(), tables...)
	for i := range b.entries {
		e := &b.entries[i]
		first := e.path[0]
		isTable, isKey := slices.Contains(tables, first), slices.Contains(all, first)
		switch {
		case len(e.path) == 1 && isTable && e.kind != header:
			return e.key.fail(fmt.Sprintf("%s is a table, not a value", first), "a line ["+first+"] with its keys below", "")
		case (len(e.path) > 1 || e.kind == header) && isKey && !isTable:
			return e.key.fail(fmt.Sprintf("%s is a value, not a table", first), "one line such as "+first+` = "…"`, "")
		case !isKey:
			return b.unknown(e, first, all)
		}
	}
	return nil
}

// keyIn checks a key's own name within its table.
func (b *builder) keyIn(e *entry, r room) error {
	if w := b.drawn(); r.table == "readings" && w != nil {
		if n, ok := w.Node(e.path[1]); ok {
			e.path[1] = n
		}
	}
	switch {
	case r.table == "":
		return nil
	case !slices.Contains(r.names(), e.path[1]):
		if r.table == "readings" {
			if err := b.swinging(e, b.readable()); err != nil {
				return err
			}
		}
		return b.unknown(e, e.path[1], r.names())
	case len(e.path) > 2 && r.table != "parts" && r.table != "odds":
		return e.key.fail(fmt.Sprintf("%s is a value, not a table", strings.Join(e.path[:2], ".")), "a text or a number", "")
	}
	return nil
}

// suits refuses what has no meaning for the circuit: a latch has no times, so nothing to aim at or to explain, and
// only a latch has inputs.
func (b *builder) suits(e *entry) error {
	latch, wired := b.subject != nil && b.subject.latch, b.subject != nil && b.subject.wired
	switch t := table(e); {
	case latch && (t == "target" || t == "was" || t == "odds" || t == "readings"), latch && (e.name() == "timer.upper" || e.name() == "timer.lower"):
		return e.key.fail(e.name()+" has no meaning for the "+b.subject.name+", which keeps no time", "no "+e.name(), "")
	case b.subject != nil && !wired && (t == "nodes" || e.name() == "minus"):
		return e.key.fail(e.name()+" is for a board that is given by its wiring", "no "+e.name()+" beside circuit", "offbeat help wiring "+b.design.Circuit+" prints that circuit as a wiring, to copy and change")
	case b.subject != nil && !latch && e.name() == "timer.inputs":
		return e.key.fail("the "+b.subject.name+" has no inputs to set and reset it", "timer.inputs with circuit = \"bistable\" only", "")
	}
	return nil
}

func (b *builder) title(e *entry) error {
	if e.kind != text {
		return e.at.fail("title is no text", "a text in quotes", "")
	}
	b.design.Title = strings.Join(strings.Fields(e.value), " ") // it is printed as a line
	return nil
}

func (b *builder) circuit(e *entry) error {
	w, err := e.word(circuit.Names())
	if err != nil {
		return err
	}
	b.design.Circuit = w
	if other := b.entryOf("wiring"); other != nil {
		return e.key.fail("the design has both a circuit and a wiring", "one of the two", "")
	}
	c, err := circuit.Lookup(w)
	if err == nil {
		b.subject = ofCircuit(c)
	}
	return err
}

func (b *builder) minus(e *entry) (err error) {
	if b.design.Minus, err = signed(e, "minus", quantity.Volt, false); err == nil && b.design.Minus.Value >= 0 {
		return e.at.fail("minus is not below ground", `a negative voltage such as "-15 V ± 2 %"`, "")
	}
	return err
}

// usualSupply stands in for a supply that is not given, and its tolerance for one given without (common practice).
const (
	usualSupply          = 5.0 // V
	usualSupplyTolerance = 0.05
)

func (b *builder) generalDone() error {
	d := b.design
	if b.subject == nil {
		return b.top.fail("the circuit is missing", `circuit = "astable" or another of `+strings.Join(circuit.Names(), ", ")+`, or the board's own wiring`, "")
	}
	if b.subject.latch {
		return nil // of its supply and its history nothing is asked
	}
	if d.History == "" && slices.ContainsFunc(b.entries, func(e entry) bool { return table(&e) == "was" }) {
		d.History = fit.Worked
	}
	if d.History == "" {
		d.History = fit.New
		b.note("history: not given, taken as a new build (history = \"worked\" for a board that used to be right)")
	}
	if d.Supply.Value == 0 {
		d.Supply = fit.Reading{Name: "supply", Value: usualSupply, Half: usualSupply * usualSupplyTolerance}
		b.note("supply: not given, taken as 5 V ± 5 %%")
	} else if d.Supply.Half == 0 && d.Supply.Standard == 0 {
		d.Supply.Half = d.Supply.Value * usualSupplyTolerance
		b.note("supply: no tolerance given, taken as ± 5 %%")
	}
	return nil
}

// threshold reads a threshold in volts or as a ratio to the supply, and gives the ratio.
func (b *builder) threshold(e *entry) (fit.Reading, error) {
	r, err := reading(e, e.path[1], quantity.Number, false)
	if err != nil {
		supply := b.design.Supply.Value
		if r, err = reading(e, e.path[1], quantity.Volt, false); err != nil {
			return r, err
		}
		r.Value, r.Half, r.Standard = r.Value/supply, r.Half/supply, r.Standard/supply
	}
	if r.Value >= 1 {
		return r, e.at.fail(e.name()+" lies at or above the supply", `volts below the supply, such as "2.36 V ± 2 %", or a ratio, such as "0.52"`, "")
	}
	return r, nil
}

func (b *builder) timerDone() error {
	d := b.design
	if b.subject.latch {
		if d.Inputs == "" {
			d.Inputs = fit.ActiveLow
			b.note("timer inputs: not given, taken as active low, as those of a timer used as a latch are")
		}
		return nil
	}
	if d.Family == "" {
		c, err := b.compiled()
		if err != nil {
			return err
		}
		d.Family, d.AnyFamily = c.Default, len(c.Suits) > 1
		b.note("timer family: not given, %s", c.Unsaid())
	}
	if d.Upper.Value > 0 && d.Lower.Value >= d.Upper.Value {
		return b.top.fail("timer.lower is not below timer.upper", "the lower threshold below the upper one", "")
	}
	return nil
}

func (b *builder) instrument(e *entry) error {
	b.design.Instrument = e.value
	return nil
}

func (b *builder) calibrated(e *entry) error {
	b.design.Calibrated = e.value
	if _, err := time.Parse(time.DateOnly, e.value); err != nil {
		return e.at.fail(e.name()+" "+quoted(e.value)+" is no date", "a day of ISO 8601, such as 2026-01-31", "")
	}
	return nil
}

func (b *builder) clock(e *entry) (err error) {
	b.design.Clock = e.value
	b.design.ClockLimit, err = e.clock()
	return err
}

func (b *builder) clockDone() error {
	if b.design.Clock == "" && !b.subject.latch {
		c := clockClasses[0]
		b.design.Clock, b.design.ClockLimit = c.name, c.limit
		b.note("%s", ClockNote())
	}
	return nil
}

// oddsKeys are the causes' keys in [odds].
func oddsKeys() []string {
	var keys []string
	for _, c := range cause.All() {
		if c.Name != cause.Nothing {
			keys = append(keys, c.Key)
		}
	}
	return keys
}

// ofParts says whether the explanations of the cause with that key concern one part each, so that "cause.part" has a meaning.
func ofParts(key string) bool {
	return slices.ContainsFunc(cause.All(), func(c cause.Cause) bool { return c.Key == key && c.Parts == 1 })
}

func (b *builder) odds(e *entry) error {
	if len(e.path) > 2 {
		if len(e.path) > 3 || !ofParts(e.path[1]) {
			return e.key.fail(e.path[1]+" has no odds for single parts", "odds."+e.path[1]+" = a number", "")
		}
		if names := b.subject.names(); !slices.Contains(names, e.last()) {
			return b.unknown(e, e.last(), names)
		}
	}
	x, err := e.plainNumber()
	if err != nil {
		return err
	}
	if b.design.Odds == nil {
		b.design.Odds = map[string]float64{}
	}
	b.design.Odds[strings.Join(e.path[1:], ".")] = x
	return nil
}

package designfile

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Read reads a design file; what a flag says takes the place of what the file says. An empty name means
// that the flags alone are the design.
func Read(name string, f Flags) (*fit.Design, error) {
	if name == "" {
		return ReadFrom(name, strings.NewReader(""), f)
	}
	r, err := os.Open(name)
	if err != nil {
		return nil, unreadable(name, err)
	}
	defer r.Close()
	return ReadFrom(name, r, f)
}

// ReadFrom does what Read does, from a stream; name is used in messages.
func ReadFrom(name string, r io.Reader, f Flags) (*fit.Design, error) {
	typed, err := f.entries()
	if err != nil {
		return nil, err
	}
	var entries []entry
	if name != "" {
		if entries, err = read(name, r); err != nil {
			return nil, err
		}
	}
	return build(name, override(entries, typed))
}

// override drops the entries whose key a later list sets, and joins the two.
func override(file, typed []entry) []entry {
	var out []entry
	for _, e := range file {
		taken := func(t entry) bool {
			a, b := e.name(), t.name()
			// A part's new value brings its own tolerance.
			return a == b || t.path[0] == "parts" && len(t.path) == 2 && slices.Contains([]string{b + ".value", b + ".tolerance"}, a)
		}
		if !slices.ContainsFunc(typed, taken) {
			out = append(out, e)
		}
	}
	return append(out, typed...)
}

// builder turns entries into a design.
type builder struct {
	design  *fit.Design
	circuit *circuit.Circuit
	top     place // the design as a whole
	entries []entry
}

// room is one table of a design and what reads its keys.
type room struct {
	table string
	keys  []string // names in the table
	read  func(e *entry) error
	done  func() error // after the last key
}

// rooms lists the tables of a design. The circuit, at the top, comes first: it says which parts there are.
func (b *builder) rooms() []room {
	parts := b.partNames()
	return []room{
		{"", []string{"title", "circuit", "supply", "history"}, b.general, b.generalDone},
		{"parts", parts, nil, b.parts},
		{"timer", []string{"family", "upper", "lower", "inputs"}, b.timer, b.timerDone},
		{"target", targetNames(), b.target, nil},
		{"instrument", []string{"clock"}, b.clock, b.clockDone},
		{"readings", append(parts, "supply", "control"), b.reading, nil},
		{"odds", oddsKeys(), b.odds, nil},
	}
}

func build(name string, entries []entry) (*fit.Design, error) {
	b := &builder{design: &fit.Design{File: name}, top: place{file: name}, entries: entries}
	if name == "" {
		b.top = place{file: "the flags", typed: true}
	}
	if err := b.known(); err != nil {
		return nil, err
	}
	for i := range b.rooms() {
		if err := b.fill(b.rooms()[i]); err != nil { // anew, since the circuit is known after the first
			return nil, err
		}
	}
	return b.design, nil
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
		if r.read == nil {
			continue
		}
		if err := r.read(e); err != nil {
			return err
		}
	}
	if r.done == nil {
		return nil
	}
	return r.done()
}

// table is the table that an entry stands in; "" at the top.
func table(e *entry) string {
	if len(e.path) == 1 {
		return ""
	}
	return e.path[0]
}

// known finds keys at the top and tables that no design has.
func (b *builder) known() error {
	var tables []string
	for _, r := range b.rooms()[1:] {
		tables = append(tables, r.table)
	}
	all := append(b.rooms()[0].keys, tables...)
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
	switch {
	case r.table == "":
		return nil
	case !slices.Contains(r.keys, e.path[1]):
		return b.unknown(e, e.path[1], r.keys)
	case len(e.path) > 2 && r.table != "parts" && r.table != "odds":
		return e.key.fail(fmt.Sprintf("%s is a value, not a table", strings.Join(e.path[:2], ".")), "a text or a number", "")
	}
	return nil
}

// suits refuses what has no meaning for the circuit: a latch has no times, so nothing to aim at or to explain, and
// only a latch has inputs.
func (b *builder) suits(e *entry) error {
	latch := b.circuit != nil && b.circuit.Latch
	switch t := table(e); {
	case latch && (t == "target" || t == "odds" || t == "readings"), latch && (e.name() == "timer.upper" || e.name() == "timer.lower"):
		return e.key.fail(e.name()+" has no meaning for the "+b.circuit.Name+" circuit, which keeps no time", "no "+e.name(), "")
	case b.circuit != nil && !latch && e.name() == "timer.inputs":
		return e.key.fail("the "+b.circuit.Name+" circuit has no inputs to set and reset it", "timer.inputs with circuit = \"bistable\" only", "")
	}
	return nil
}

// unknown complains about a key, and names the nearest of those that may stand there and do not yet, or the
// table that it belongs in.
func (b *builder) unknown(e *entry, word string, names []string) error {
	what := "unknown key " + quoted(word)
	switch {
	case len(e.path) == 2 && table(e) == "parts", len(e.path) > 2 && table(e) == "odds":
		what = "the " + b.circuit.Name + " circuit has no part " + quoted(word)
	case table(e) == "readings":
		what = "the " + b.circuit.Name + " circuit has no part or node " + quoted(word)
	}
	var free []string
	for _, n := range names {
		given := func(o entry) bool {
			own := strings.Join(append(slices.Clone(e.path[:len(e.path)-1]), n), ".")
			return o.kind != header && strings.HasPrefix(o.name()+".", own+".")
		}
		if !slices.ContainsFunc(b.entries, given) {
			free = append(free, n)
		}
	}
	if len(names) == 0 {
		return e.key.fail(what, "no parts: it keeps no time", "")
	}
	do := ""
	if n := Nearest(word, free); n != "" {
		do = "did you mean " + n + "?"
	} else if t := b.belongs(word, table(e)); t != "" {
		do = fmt.Sprintf("%s belongs in [%s]", word, t)
	}
	return e.key.fail(what, "one of "+strings.Join(names, ", "), do)
}

// belongs finds another table that has the key.
func (b *builder) belongs(word, not string) string {
	for _, r := range b.rooms()[1:] {
		if r.table != not && slices.Contains(r.keys, word) {
			return r.table
		}
	}
	return ""
}

// general reads the keys at the top.
func (b *builder) general(e *entry) error {
	switch e.path[0] {
	case "title":
		if e.kind != text {
			return e.at.fail("title is no text", "a text in quotes", "")
		}
		b.design.Title = strings.Join(strings.Fields(e.value), " ") // it is printed as a line
	case "circuit":
		w, err := e.word(circuit.Names())
		if err != nil {
			return err
		}
		b.design.Circuit = w
		b.circuit, err = circuit.Lookup(w)
		return err
	case "supply":
		r, err := reading(e, "supply", quantity.Volt, false)
		b.design.Supply = r
		return err
	case "history":
		w, err := e.word([]string{fit.New, fit.Worked})
		b.design.History = w
		return err
	}
	return nil
}

// usualSupply stands in for a supply that is not given, and its tolerance for one given without (common practice).
const (
	usualSupply          = 5.0 // V
	usualSupplyTolerance = 0.05
)

func (b *builder) generalDone() error {
	d := b.design
	if b.circuit == nil {
		return b.top.fail("the circuit is missing", `circuit = "astable" or another of `+strings.Join(circuit.Names(), ", "), "")
	}
	if b.circuit.Latch {
		return nil // of its supply and its history nothing is asked
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

func (b *builder) note(format string, args ...any) {
	b.design.Notes = append(b.design.Notes, fmt.Sprintf(format, args...))
}

// families are the words that the circuit knows for its active part.
func (b *builder) families() []string {
	var names []string
	for _, f := range []string{fit.Bipolar, fit.CMOS, fit.Ideal} {
		if _, err := b.circuit.Priors(f); err == nil {
			names = append(names, f)
		}
	}
	return names
}

func (b *builder) timer(e *entry) (err error) {
	switch e.path[1] {
	case "family":
		b.design.Family, err = e.word(b.families())
	case "upper":
		b.design.Upper, err = b.threshold(e)
	case "lower":
		b.design.Lower, err = b.threshold(e)
	case "inputs":
		b.design.Inputs, err = e.word([]string{fit.ActiveLow, fit.ActiveHigh})
	}
	return err
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
	if b.circuit.Latch {
		if d.Inputs == "" {
			d.Inputs = fit.ActiveLow
			b.note("timer inputs: not given, taken as active low, as those of a timer used as a latch are")
		}
		return nil
	}
	if d.Family == "" {
		d.Family, d.AnyFamily = b.circuit.Default, len(b.circuit.Suits) > 1
		b.note("timer family: not given, %s", b.circuit.Unsaid())
	}
	if d.Upper.Value > 0 && d.Lower.Value >= d.Upper.Value {
		return b.top.fail("timer.lower is not below timer.upper", "the lower threshold below the upper one", "")
	}
	return nil
}

func (b *builder) clock(e *entry) (err error) {
	b.design.Clock = e.value
	b.design.ClockLimit, err = e.clock()
	return err
}

func (b *builder) clockDone() error {
	if b.design.Clock == "" && !b.circuit.Latch {
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
		if names := b.partNames(); !slices.Contains(names, e.last()) {
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

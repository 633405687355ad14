package circuit

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"sync"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// Spec is one part of a circuit.
type Spec struct {
	Name string
	Kind fit.PartKind
	Idle bool // it has no bearing on the times
}

// Group is a product or ratio of parts that the times alone can see.
type Group struct {
	Name string                  // such as "R2*C1"
	Unit string                  // "s" or "1"
	Of   func(v *Values) float64 // from the parts
	// Near holds the powers with which a half-cycle goes as the parts near the nominals, where no product or ratio is exact.
	Near map[string]float64
}

// Suit is a family that may be fitted, and how often it is.
type Suit struct {
	Family string
	Weight float64
}

// Ratio bounds the high time over the low time.
type Ratio struct {
	Least, Most float64
	Why         string // how a ratio beyond them reads, and what the circuit would have to be
}

// Circuit is what a board is made of and how it keeps time: a compiled wiring, or the one law that is written by hand.
type Circuit struct {
	Name     string
	Title    string             // in plain words
	Parts    []Spec             // their order is that of the slots 0, 1, 2 …
	Terms    []Slot             // second-order terms that its law uses
	Faults   []Slot             // fault slots that make sense in it: LeakRatio, WeakRatio; Upper for a moved control pin
	OnePulse bool               // the high time alone is timed; the low time is set by the trigger
	Ratio    *Ratio             // what its times cannot be, whatever its parts are; nil: nothing
	Default  string             // family where the design is silent
	Suits    []Suit             // the families that may be fitted where none is said, with prior weights; nil: Default alone
	Families map[string][]Prior // by the kind of its device
	Latch    bool               // it keeps no time: its truth table is checked, and Times is nil
	// Groups are what the times pin down with no assumption, found where they are first asked for, and the slots of the parts that
	// they are solved for, the others at nominal.
	Groups func() (groups []Group, first []int)
	// Times gives the measured high and low time in s; ok is false where the circuit does not run. For a
	// OnePulse circuit low is 1 and means nothing.
	Times func(v *Values) (high, low float64, ok bool)
	// Curve gives the timing capacitor's voltage; nil where no one capacitor's curve shows both thresholds.
	Curve func(v *Values) Curve
	// Bends says that the charge is not quite one first-order run: a diode carries it, whose drop falls with its current.
	Bends bool
	// Wiring is what it was compiled from; nil: a law written by hand.
	Wiring *wiring.Wiring

	engine  *engine
	means   *means
	about   Values    // the values about which it was compiled
	loads   [][]Load  // what may hang on it, a set each
	loaded  []*engine // one a set
	stopped bool      // it never runs, whatever the values
	why     string    // it does not
	rests   int       // where its output then stands; see Rests
	brings  []Prior   // of what its wiring brings besides the family's terms
	fixed   []setting // what its wiring brings that is not in doubt
	// variants keeps the circuits with a part missing, bridged or turned.
	variants *cache[string]
	plain    []Prior // slots and names of the diodes of which the design says nothing
}

// setting is a slot's value.
type setting struct {
	slot  Slot
	value float64
}

// OutputReaches says whether the output's levels have a say in the times.
func (c *Circuit) OutputReaches() bool {
	return slices.ContainsFunc([]Slot{OutputDrop, OutputHigh, OutputLow}, func(s Slot) bool { return slices.Contains(c.Terms, s) })
}

// ErrNoTimes is wrapped where a circuit that keeps no time is asked for one.
var ErrNoTimes = errors.New("it keeps no time, so there are no times to predict or to compare; its truth table is checked by offbeat reconcile from a logic capture of output, set and reset")

// timed refuses a circuit that keeps no time.
func (c *Circuit) timed() error {
	if c.Latch {
		return fmt.Errorf("the %s circuit: %w", c.Name, ErrNoTimes)
	}
	return nil
}

// Slot finds the slot of a part by name.
func (c *Circuit) Slot(part string) (Slot, bool) {
	for i, p := range c.Parts {
		if p.Name == part {
			return Slot(i), true
		}
	}
	return 0, false
}

// Has says whether the circuit can show a fault of that slot.
func (c *Circuit) Has(fault Slot) bool { return slices.Contains(c.Faults, fault) }

// Resistors returns the indexes of the resistors among the parts.
func (c *Circuit) Resistors() []int {
	var r []int
	for i, p := range c.Parts {
		if p.Kind == fit.Resistor {
			r = append(r, i)
		}
	}
	return r
}

// Charging is the actual resistance in ohm through which the capacitor charges.
func (c *Circuit) Charging(v *Values) float64 {
	if c.engine == nil {
		return v[0]
	}
	charging, _ := c.engine.ratios(v)
	return charging
}

// Discharging is the actual resistance in ohm between the discharge pin and the capacitor; 0 where there is none.
func (c *Circuit) Discharging(v *Values) float64 {
	if c.engine == nil {
		return 0
	}
	_, path := c.engine.ratios(v)
	return path
}

// Feed is the slot of the resistor from the supply to the discharge pin, where it is one.
func (c *Circuit) Feed() (Slot, bool) {
	if c.Wiring == nil {
		return 0, false
	}
	pin := c.Wiring.Device.Node(wiring.PinDischarge)
	for _, k := range c.Wiring.Cards {
		if k.Kind == wiring.Resistor && slices.Contains(k.Nodes, pin) && slices.Contains(k.Nodes, wiring.Supply) {
			return c.Slot(k.Name)
		}
	}
	return 0, false
}

// Reads says whether a slot has a say in the times: of a law written by hand the supply and its own terms.
func (c *Circuit) Reads(s Slot) bool {
	if c.engine == nil {
		return s == Supply || slices.Contains(c.Terms, s)
	}
	return s == DelayFall || s == DelayRise || c.engine.reads(s)
}

// Position is the slot of a part's wiper, as a ratio from its first end, where the part is a potentiometer whose three
// ends are wired apart.
func (c *Circuit) Position(part string) (Slot, bool) {
	s, ok := c.means.position[part]
	return s, ok
}

// Capacitor is the index of the timing capacitor among the parts; -1 where there is none.
func (c *Circuit) Capacitor() int {
	for i, p := range c.Parts {
		if s, ok := c.Leak(p.Name); ok && s == LeakRatio {
			return i
		}
	}
	return slices.IndexFunc(c.Parts, func(p Spec) bool { return p.Kind == fit.Capacitor && !p.Idle })
}

// Grounded says whether every capacitor that swings has an end on ground.
func (c *Circuit) Grounded() bool {
	return c.Wiring != nil && !slices.ContainsFunc(c.Wiring.Cards, func(k wiring.Card) bool {
		return k.Kind == wiring.Capacitor && !c.Wiring.Idle(&k) && !slices.Contains(k.Nodes, wiring.Ground)
	})
}

// Leak is the slot of the leakage across a capacitor, as a ratio to what the timing node charges through.
func (c *Circuit) Leak(part string) (Slot, bool) {
	s, ok := c.means.leak[part]
	return s, ok
}

// Sound takes from the values what the faults of a part's own are: a sound one has taken its place.
func (c *Circuit) Sound(v *Values, part Slot) {
	if slot, ok := c.Leak(c.Parts[part].Name); ok {
		v[slot] = 0
	}
	if int(part) == c.Capacitor() {
		v[Contact] = 0
	}
}

// Node is the slot of the voltage of a node that the design holds.
func (c *Circuit) Node(name string) (Slot, bool) {
	s, ok := c.means.node[name]
	return s, ok
}

// Form is the distribution of a type-B prior (JCGM 100 4.3).
type Form int

const (
	Uniform Form = iota // between A and B (JCGM 100 4.3.7)
	Normal              // mean A, standard deviation B
)

// Prior is what is believed about one second-order term before anything is measured.
type Prior struct {
	Slot   Slot
	Name   string // in plain words
	Form   Form
	A, B   float64 // SI unit of the slot
	Source string
}

// Typical is the prior's mean.
func (p Prior) Typical() float64 {
	if p.Form == Normal {
		return p.A
	}
	return (p.A + p.B) / 2
}

// Deviation is the prior's standard deviation.
func (p Prior) Deviation() float64 {
	if p.Form == Normal {
		return p.B
	}
	return (p.B - p.A) / math.Sqrt(12)
}

// Load is what hangs on a node for one capture: a resistance or a capacitance from it to ground, or a source.
type Load struct {
	Node  string
	Kind  LoadKind
	Value float64 // ohm, farad or V, about which the law is compiled
}

// LoadKind is what a load is.
type LoadKind int

const (
	LoadOhm   LoadKind = iota // a resistor to ground
	LoadFarad                 // a capacitor to ground
	LoadVolt                  // a source to ground
)

// mostCompiled is how many compiled circuits are kept at a time.
const mostCompiled = 64

// cache keeps compiled circuits, which are read-only, by what they were compiled from.
type cache[K comparable] struct {
	lock sync.Mutex
	all  map[K]*Circuit
	from map[K]any
}

// get is the circuit of that key, compiled anew unless it is kept and was compiled from the same.
func (c *cache[K]) get(key K, from any, compile func() (*Circuit, error)) (*Circuit, error) {
	c.lock.Lock()
	defer c.lock.Unlock()
	if k, ok := c.all[key]; ok && reflect.DeepEqual(c.from[key], from) {
		return k, nil
	}
	k, err := compile()
	if err != nil {
		return nil, err
	}
	if c.all == nil || len(c.all) >= mostCompiled {
		c.all, c.from = map[K]*Circuit{}, map[K]any{}
	}
	c.all[key], c.from[key] = k, from
	return k, nil
}

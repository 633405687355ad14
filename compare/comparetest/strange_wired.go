package comparetest

import (
	"math"
	"math/rand/v2"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// Wired is a kind of unlisted fault of a world that is held out: its boards are wired node by node and their faults are extra
// elements or levels, so that nothing is tuned to both worlds' rules. Figures are common practice.
type Wired struct {
	Name     string
	Circuits []string
	Change   func(rng *rand.Rand, w *bench)
	Guilty   []string // parts that it is right to name
}

// bench is a board being wired, with what a fault needs to know of it.
type bench struct {
	fittest.Board
	supply, ohm, tau float64 // V, what the node charges through, s
	upper, lower     float64 // V
}

func (w *bench) resistor(a, b string, ohm float64) {
	w.Resistors = append(w.Resistors, fittest.Two{A: a, B: b, Value: ohm})
}

var wiredCircuits = []string{fittest.Astable, fittest.AstableDiode, fittest.AstableOutput, fittest.Schmitt}

// WiredKinds are the held-out faults.
var WiredKinds = []Wired{
	{"leak from the supply", wiredCircuits, func(rng *rand.Rand, w *bench) { w.resistor("supply", "node", w.ohm*even(rng, 3, 60)) }, nil},
	{"leak from the output", wiredCircuits[:2], func(rng *rand.Rand, w *bench) { w.resistor("output", "node", w.ohm*even(rng, 3, 60)) }, nil},
	{"leak at the discharge pin", wiredCircuits[:2], func(rng *rand.Rand, w *bench) { w.resistor("pin", "ground", w.ohm*even(rng, 5, 60)) }, nil},
	{"soakage", wiredCircuits, func(rng *rand.Rand, w *bench) {
		c := w.Capacitors[0].Value * between(rng, 0.03, 0.15)
		w.Capacitors = append(w.Capacitors, fittest.Two{A: "soaked", B: "ground", Value: c})
		w.resistor("node", "soaked", w.tau*between(rng, 0.5, 5)/c)
	}, []string{"C1"}},
	{"contact and stray", wiredCircuits, func(rng *rand.Rand, w *bench) {
		w.Capacitors[0].A = "inner"
		w.resistor("node", "inner", w.ohm*between(rng, 0.03, 0.3))
		w.Capacitors = append(w.Capacitors, fittest.Two{A: "node", B: "ground", Value: w.Capacitors[0].Value * between(rng, 0.02, 0.2)})
	}, []string{"C1"}},
	{"supply sags while the output is high", wiredCircuits, func(rng *rand.Rand, w *bench) {
		k := between(rng, 0.75, 0.97)
		w.Held["supply"], w.High, w.upper = k*w.Held["supply"], k*w.High, k*w.upper
	}, nil},
	{"noise trips both thresholds early", wiredCircuits, func(rng *rand.Rand, w *bench) {
		x := w.supply * between(rng, 0.01, 0.08)
		w.upper, w.lower = w.upper-x, w.lower+x
	}, nil},
	{"late to fall", wiredCircuits, func(rng *rand.Rand, w *bench) { w.DelayFall = w.tau * between(rng, 0.03, 0.3) }, nil},
	{"diode in the discharge", wiredCircuits[:2], func(rng *rand.Rand, w *bench) { w.Saturation = between(rng, 0.45, 0.75) }, nil},
	{"ground lifted by the load", wiredCircuits[:2], func(rng *rand.Rand, w *bench) {
		x := w.supply * between(rng, 0.02, 0.12) // while the output is low the timer's own ground lies higher
		w.Saturation, w.lower = x, w.lower+x*2/3
	}, nil},
	{"resistors from a wrong reel", wiredCircuits, func(rng *rand.Rand, w *bench) {
		k := pick(rng, between(rng, 0.7, 0.93), between(rng, 1.07, 1.4))
		for i := range w.Resistors {
			w.Resistors[i].Value *= k
		}
	}, []string{"R1", "R2"}},
}

// WiredBoard is a sound board of a design of its own that the fault has changed, measured by integration.
func WiredBoard(rng *rand.Rand, k *Wired) (*fit.Design, *fit.Measurement) {
	for {
		d, m := wiredBoard(rng, pick(rng, k.Circuits...), k.Change)
		if m != nil {
			return d, m
		}
	}
}

// wiredBoard draws one; the measurement is nil where it does not run.
func wiredBoard(rng *rand.Rand, circuit string, change func(rng *rand.Rand, w *bench)) (*fit.Design, *fit.Measurement) {
	d := &fit.Design{Circuit: circuit, Family: fit.CMOS, Supply: fit.Reading{Name: "supply", Value: pick(rng, 5., 9, 12)}}
	d.Supply.Half = pick(rng, 0.02, 0.05) * d.Supply.Value
	actual := func(name string, kind fit.PartKind, nominal float64, limits ...float64) float64 {
		limit := pick(rng, limits...)
		d.Parts = append(d.Parts, fit.Part{Name: name, Kind: kind, Nominal: nominal, Minus: limit, Plus: limit})
		return nominal * (1 + limit*(2*rng.Float64()-1))
	}
	resistor := func(name string) float64 {
		return actual(name, fit.Resistor, pick(rng, 1., 1.5, 2.2, 3.3, 4.7, 6.8)*pick(rng, 1e4, 1e5), 0.01, 0.02, 0.05)
	}
	r1, r2 := resistor("R1"), 0.0
	if circuit == fittest.Astable || circuit == fittest.AstableDiode {
		r2 = resistor("R2")
	}
	c := actual("C1", fit.Capacitor, pick(rng, 1., 2.2, 4.7)*pick(rng, 1e-8, 1e-7, 1e-6), 0.05, 0.1)
	v := d.Supply.Value + d.Supply.Half*(2*rng.Float64()-1)
	w := &bench{supply: v, upper: v * (2./3 + 0.01*rng.NormFloat64())}
	w.lower = w.upper * (0.5 + 0.0125*rng.NormFloat64())
	w.Held = map[string]float64{"ground": 0, "supply": v}
	w.Output, w.High, w.DelayFall, w.Delay = "output", v, 2e-7, 2e-7
	switch circuit {
	case fittest.Astable, fittest.AstableDiode:
		w.Switch, w.Ohm = "pin", between(rng, 5, 50)
		w.resistor("supply", "pin", r1)
		w.resistor("pin", "node", r2)
		w.ohm = r1 + r2
		if circuit == fittest.AstableDiode {
			w.Diodes, w.ohm = []fittest.Two{{A: "pin", B: "node", Value: between(rng, 0.45, 0.75)}}, r1
		}
	default:
		w.resistor("output", "node", r1)
		w.ohm = r1
		if circuit == fittest.Schmitt {
			d.Upper, d.Lower = fit.Reading{Value: 2. / 3, Standard: 0.01}, fit.Reading{Value: 1. / 3, Standard: 0.01}
		}
	}
	w.Capacitors = []fittest.Two{{A: "node", B: "ground", Value: c}}
	w.tau = w.ohm * c
	change(rng, w)
	w.FallWhen = []fittest.Test{{Left: "node", LeftBy: 1, RightBy: w.upper}}
	w.RiseWhen = []fittest.Test{{LeftBy: w.lower, Right: "node", RightBy: 1}}
	high, low, err := w.Cycle(false)
	if err != nil || math.IsNaN(high+low) {
		return d, nil
	}
	of := func(t float64) fit.Estimate {
		u := t * even(rng, 1e-5, 1e-3)
		return fit.Estimate{Value: t + u*rng.NormFloat64(), Uncertainty: u, Count: 100}
	}
	return d, &fit.Measurement{Source: "bench", High: of(high), Low: of(low), Clock: 50e-6, Cycles: 100}
}

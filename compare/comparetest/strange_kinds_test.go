package comparetest

import (
	"math/rand/v2"
	"slices"

	"offbeat/fit/fittest"
)

var (
	timers  = []string{"astable", "astable-diode", "astable-output"}
	onPin   = []string{"astable", "astable-diode", "trimmer in series", "two diodes"}
	plain   = []string{"astable", "trimmer in series"}
	diodes  = []string{"astable-diode", "two diodes"}
	fromOut = []string{"astable-output", "schmitt", "op-amp on two supplies", "comparator on one supply"}
	divided = fromOut[2:]
	onRail  = slices.Concat(onPin, fromOut[:2])
	every   = slices.Concat(onPin, fromOut)
	others  = slices.Concat(every, []string{"wiper between two diodes", "diode across part of R2", "inverter with a diode", "capacitor to the supply"})
)

// Kinds are the strange faults.
var Kinds = []Strange{
	{Known, "forgotten diode", diodes[:1], func(_ *rand.Rand, w *bench) { w.Diodes = nil }, []string{"D1"}},
	{Known, "diode too many", plain[:1], func(rng *rand.Rand, w *bench) {
		w.Diodes = []fittest.Two{{A: "discharge", B: w.node, Value: between(rng, 0.45, 0.75)}}
	}, []string{Undrawn}},
	// One maker's typical ratios are 0.65 and 0.31 (Philips ICM7555 p. 339); others spread further.
	{Known, "another maker's thresholds", timers, func(rng *rand.Rand, w *bench) {
		*w.upper(), *w.lower() = w.supply*between(rng, 0.58, 0.75), w.supply*between(rng, 0.24, 0.42)
	}, nil},
	{Known, "triggers too early", timers, func(rng *rand.Rand, w *bench) { w.move(1, between(rng, 1.1, 1.5), 0) }, nil},
	{Known, "triggers too late", timers, func(rng *rand.Rand, w *bench) { w.move(1, between(rng, 0.5, 0.9), 0) }, nil},
	{Known, "constant current drawn", every, func(rng *rand.Rand, w *bench) { w.Draws[w.node] += w.supply / w.ohm / 3 * between(rng, 0.03, 0.5) }, []string{"C1"}},
	{Known, "constant current from the supply", every, func(rng *rand.Rand, w *bench) { w.Draws[w.node] -= w.supply / w.ohm / 3 * between(rng, 0.03, 0.5) }, nil},
	{Known, "high saturation voltage", onPin, func(rng *rand.Rand, w *bench) { w.Saturation = w.supply * between(rng, 0.05, 0.25) }, nil},
	{Known, "slow comparator", every, func(rng *rand.Rand, w *bench) {
		w.DelayFall, w.Delay = w.tau*between(rng, 0.02, 0.3), w.tau*between(rng, 0.02, 0.3)
	}, nil},
	{Known, "sagging output", fromOut, func(rng *rand.Rand, w *bench) { w.High = w.supply * between(rng, 0.75, 0.95) }, nil},
	{Known, "loaded low output", fromOut, func(rng *rand.Rand, w *bench) { w.Low += w.supply * between(rng, 0.05, 0.2) }, nil},
	{Known, "every resistor up", timers, func(rng *rand.Rand, w *bench) {
		w.everyResistor(func() float64 { return between(rng, 1.1, 1.5) })
	}, []string{"R1", "R2"}},
	{Known, "thresholds moved and a leak", timers, func(rng *rand.Rand, w *bench) {
		k := between(rng, 0.8, 1.15)
		w.move(k, k, 0)
		w.leak(rng, "ground", 6, 40)
	}, []string{"C1"}},
	{Known, "weak switch and slow comparator", onPin, func(rng *rand.Rand, w *bench) {
		w.Ohm, w.DelayFall = w.Ohm+w.ohm*between(rng, 0.02, 0.2), w.lag(rng, 0.02, 0.2)
	}, nil},
	{Known, "contact and leak", every, func(rng *rand.Rand, w *bench) {
		w.contact(w.ohm * between(rng, 0.05, 0.4))
		w.leak(rng, "ground", 6, 40)
	}, []string{"C1"}},

	{HeldOut, "leak from the supply", every, func(rng *rand.Rand, w *bench) { w.leak(rng, "supply", 3, 60) }, nil},
	{HeldOut, "leak from the output", onPin, func(rng *rand.Rand, w *bench) { w.leak(rng, "output", 3, 60) }, nil},
	{HeldOut, "leak at the discharge pin", onPin, func(rng *rand.Rand, w *bench) { w.resistor("discharge", "ground", w.ohm*even(rng, 5, 60)) }, nil},
	{HeldOut, "soakage", every, func(rng *rand.Rand, w *bench) { w.soak(between(rng, 0.03, 0.15), between(rng, 0.5, 5)) }, []string{"C1"}},
	{HeldOut, "contact and stray", every, func(rng *rand.Rand, w *bench) {
		c := w.farads()
		w.contact(w.ohm * between(rng, 0.03, 0.3))
		w.capacitor(w.node, "ground", c*between(rng, 0.02, 0.2))
	}, []string{"C1"}},
	{HeldOut, "supply sags while the output is high", onRail, func(rng *rand.Rand, w *bench) {
		k := between(rng, 0.75, 0.97)
		w.Held["supply"], w.High = k*w.Held["supply"], k*w.High
		w.move(k, 1, 0)
	}, nil},
	{HeldOut, "noise trips both thresholds early", onRail, func(rng *rand.Rand, w *bench) { w.move(1, 1, -w.supply*between(rng, 0.01, 0.08)) }, nil},
	{HeldOut, "late to fall", every, func(rng *rand.Rand, w *bench) { w.DelayFall = w.lag(rng, 0.03, 0.3) }, nil},
	{HeldOut, "diode in the discharge", onPin, func(rng *rand.Rand, w *bench) { w.Saturation = between(rng, 0.45, 0.75) }, nil},
	{HeldOut, "ground lifted by the load", onPin, func(rng *rand.Rand, w *bench) {
		x := w.supply * between(rng, 0.02, 0.12) // while the output is low the timer's own ground lies higher
		w.Saturation, *w.lower() = x, *w.lower()+x*2/3
	}, nil},
	{HeldOut, "resistors from a wrong reel", every, func(rng *rand.Rand, w *bench) {
		k := either(rng, 0.7, 0.93, 1.07, 1.4)
		w.everyResistor(func() float64 { return k })
	}, []string{"R1", "R2", "RV1", "R3", "R4"}},

	// 1 Mohm and about 110 pF, 90 to 110 pF/m of cable (makers' pages on passive probes).
	{Third, "probe at one to one on the node", every, func(rng *rand.Rand, w *bench) {
		w.resistor(w.node, "ground", 1e6)
		w.capacitor(w.node, "ground", between(rng, 90e-12, 150e-12))
	}, nil},
	{Apart, "capacitance from the output", every, func(rng *rand.Rand, w *bench) { w.capacitor("output", w.node, w.farads()*even(rng, 0.01, 0.15)) }, nil},
	{Third, "leak to a node in the middle", every, func(rng *rand.Rand, w *bench) {
		w.Held["leaking"] = w.supply * between(rng, 0.4, 0.7)
		w.leak(rng, "leaking", 2, 40)
	}, nil},
	{Apart, "upper threshold alone", every, func(rng *rand.Rand, w *bench) { w.move(either(rng, 0.8, 0.97, 1.03, 1.15), 1, 0) }, nil},
	{Third, "late to rise", every, func(rng *rand.Rand, w *bench) { w.Delay += w.lag(rng, 0.02, 0.3) }, nil},
	{Apart, "damaged input", every, func(rng *rand.Rand, w *bench) { // it conducts from a junction's drop on
		w.junction(w.node, "ground", between(rng, 0.5, 1.2), w.ohm*even(rng, 2.5, 30))
	}, nil},
	{Third, "worn electrolytic with resistance", every, func(rng *rand.Rand, w *bench) {
		w.Capacitors[0].Value *= between(rng, 0.4, 0.9)
		w.contact(w.ohm * even(rng, 0.02, 0.3))
		w.leak(rng, "ground", 5, 100)
	}, []string{"C1"}},
	{Apart, "resistance in the supply", onPin, func(rng *rand.Rand, w *bench) { // thresholds follow the rail, and so does what charges
		w.fed("rail")
		w.resistor("supply", "rail", w.ohm*even(rng, 0.01, 0.15))
		w.resistor("rail", "ground", w.ohm*even(rng, 0.5, 5)) // what else it feeds
		for _, t := range []*fittest.Test{&w.FallWhen[0], &w.RiseWhen[0]} {
			if t.Right == "" {
				t.Right, t.RightBy = "rail", t.RightBy/w.supply
			} else if t.Left == "" {
				t.Left, t.LeftBy = "rail", t.LeftBy/w.supply
			}
		}
	}, nil},
	{Third, "charged from another rail", onPin, func(rng *rand.Rand, w *bench) {
		w.Held["other"] = w.supply * either(rng, 0.8, 0.95, 1.05, 1.8)
		w.fed("other")
	}, nil},
	{Apart, "indicator at the discharge pin", onPin, func(rng *rand.Rand, w *bench) {
		w.Diodes = append(w.Diodes, fittest.Two{A: "lamp", B: "discharge", Value: between(rng, 1.6, 2.4)})
		w.resistor("supply", "lamp", w.ohm*even(rng, 0.2, 10))
	}, nil},
	{Third, "capacitor across the discharge", onPin, func(rng *rand.Rand, w *bench) { w.capacitor("discharge", w.node, w.farads()*even(rng, 0.02, 0.3)) }, nil},
	{Apart, "capacitor at the discharge pin", onPin, func(rng *rand.Rand, w *bench) { w.capacitor("discharge", "ground", w.farads()*even(rng, 0.02, 0.3)) }, nil},
	{Third, "another kind of diode", diodes, func(rng *rand.Rand, w *bench) {
		for i := range w.Diodes {
			w.Diodes[i].Value = either(rng, 0.15, 0.4, 1, 2)
		}
	}, []string{"D1", "D2"}},
	{Apart, "leaking diode", diodes, func(rng *rand.Rand, w *bench) { w.resistor(w.Diodes[0].A, w.Diodes[0].B, w.ohm*even(rng, 2, 50)) }, []string{"D1"}},
	// A hex inverter of the 4000 series has 455 ohm typically at 5 V, 222 at 10 V (National TL/F/5985 p. 3).
	{Third, "weak output", fromOut, func(rng *rand.Rand, w *bench) { w.inFeedback(w.ohm*even(rng, 0.03, 0.4), "both") }, nil},
	{Apart, "pull-up in the charge", fromOut, func(rng *rand.Rand, w *bench) { w.inFeedback(w.ohm*even(rng, 0.03, 0.5), "charge") }, nil},
	{Third, "output swings less", fromOut, func(rng *rand.Rand, w *bench) {
		lost := (w.High - w.Low) * between(rng, 0.03, 0.2)
		w.High, w.Low = w.High-lost*rng.Float64(), w.Low+lost
	}, nil},
	{Apart, "slow optocoupler", every, func(rng *rand.Rand, w *bench) { w.late = even(rng, 0.005, 0.08) }, nil},
	{Third, "time base far off", every, func(rng *rand.Rand, w *bench) { w.scale = either(rng, 0.75, 0.97, 1.03, 1.25) }, nil},
	{Apart, "control pin tied to the output", onPin, func(rng *rand.Rand, w *bench) {
		k := between(rng, 0.02, 0.2)
		w.move(1+k/2, 1-k, 0)
	}, nil},
	{Third, "reversed electrolytic", every, func(rng *rand.Rand, w *bench) {
		w.junction(w.node, "ground", between(rng, 0.8, 2), w.ohm*even(rng, 2.5, 20))
	}, []string{"C1"}},
	{Apart, "resistor at the wrong end", plain, func(_ *rand.Rand, w *bench) {
		for i := range w.Resistors {
			if r := &w.Resistors[i]; r.A == "supply" {
				r.B = w.node
			}
		}
	}, []string{"R1"}},
	{Third, "current out of a pin", every, func(rng *rand.Rand, w *bench) { // 250 nA at most into a bipolar threshold pin, 500 nA of an amplifier's
		w.Draws[w.node] += pick(rng, -1., 1) * max(w.supply/w.ohm/3*even(rng, 0.01, 0.2), 100e-9)
	}, nil},
	{Apart, "everything warm", every, func(rng *rand.Rand, w *bench) {
		for i := range w.Capacitors {
			w.Capacitors[i].Value *= 1 + between(rng, -0.15, 0.1)
		}
		w.everyResistor(func() float64 { return 1 + between(rng, -0.005, 0.02) })
		w.Draws[w.node] += w.supply / w.ohm / 3 * even(rng, 0.003, 0.05)
	}, []string{"C1"}},

	{Last, "filter before the pins", onRail, func(rng *rand.Rand, w *bench) {
		w.resistor(w.node, "filtered", w.ohm*even(rng, 0.05, 0.5))
		w.capacitor("filtered", "ground", w.farads()*even(rng, 0.01, 0.2))
		w.FallWhen[0].Left, w.RiseWhen[0].Right = "filtered", "filtered"
	}, nil},
	{Last, "capacitor's ground shared with the load", others, func(rng *rand.Rand, w *bench) {
		if w.Capacitors[0].B == "ground" {
			w.Capacitors[0].B = "lifted"
		}
		w.resistor("lifted", "ground", w.ohm*1e-3)
		w.resistor("output", "lifted", w.ohm*1e-3*even(rng, 8, 80))
	}, nil},
	{Last, "damp board", others, func(rng *rand.Rand, w *bench) {
		w.leak(rng, "ground", 10, 100)
		w.leak(rng, "supply", 10, 100)
		w.leak(rng, "output", 10, 100)
	}, nil},
	{Last, "threshold on the discharge pin", plain, func(_ *rand.Rand, w *bench) { w.FallWhen[0].Left = "discharge" }, nil},
	{Last, "R1 fed from the output", onPin, func(_ *rand.Rand, w *bench) { w.fed("output") }, []string{"R1"}},
	{Last, "clamp at the node", others, func(rng *rand.Rand, w *bench) {
		w.junction(w.node, "ground", w.supply*between(rng, 0.45, 0.65), w.ohm*even(rng, 0.05, 2))
	}, nil},
	{Last, "snubber left across the capacitor", others, func(rng *rand.Rand, w *bench) { w.soak(even(rng, 0.05, 0.5), even(rng, 0.02, 2)) }, nil},
	{Last, "forgotten capacitor in parallel", others, func(rng *rand.Rand, w *bench) { w.capacitor(w.node, "ground", w.farads()*even(rng, 0.05, 1)) }, nil},
	{Last, "logic of another family", fromOut[1:2], func(rng *rand.Rand, w *bench) { w.move(between(rng, 0.6, 0.85), between(rng, 0.5, 0.8), 0) }, nil},
	{Last, "indicator in series with the switch", onPin, func(rng *rand.Rand, w *bench) { w.Saturation = min(between(rng, 1.6, 2.4), w.supply*0.28) }, nil},
	{Last, "leaking switch", onPin, func(rng *rand.Rand, w *bench) { w.Draws["discharge"] += w.supply / w.ohm * even(rng, 0.02, 0.2) }, nil},
	{Last, "leak at the reference", divided, func(rng *rand.Rand, w *bench) {
		w.resistor("ref", pick(rng, "ground", "supply"), 2e4*even(rng, 1, 20))
	}, nil},
	{Last, "capacitor at the reference", divided, func(rng *rand.Rand, w *bench) { w.capacitor("ref", "ground", w.lag(rng, 0.02, 0.3)/1e4) }, nil},
	{Last, "ripple trips one threshold early", onRail, func(rng *rand.Rand, w *bench) {
		if k := between(rng, 0.02, 0.15); rng.IntN(2) == 0 {
			w.move(1-k, 1, 0)
		} else {
			w.move(1, 1+k, 0)
		}
	}, nil},
	{Last, "weak in the discharge alone", fromOut, func(rng *rand.Rand, w *bench) { w.inFeedback(w.ohm*even(rng, 0.03, 0.5), "discharge") }, nil},
	{Last, "overloaded amplifier", divided, func(rng *rand.Rand, w *bench) {
		w.DelayFall, w.Delay, w.High = w.lag(rng, 0.01, 0.1), w.lag(rng, 0.01, 0.1), w.High-(w.High-w.Low)*between(rng, 0.01, 0.1)
	}, nil},
	{Last, "pulses shown short", others, func(rng *rand.Rand, w *bench) { w.late = -even(rng, 0.005, 0.08) }, nil},
	{Last, "diode across R2 the other way", plain, func(rng *rand.Rand, w *bench) {
		w.Diodes = append(w.Diodes, fittest.Two{A: w.node, B: "discharge", Value: between(rng, 0.45, 0.75)})
	}, []string{Undrawn}},
	{Last, "one rail low", divided[:1], func(rng *rand.Rand, w *bench) {
		k := between(rng, 0.75, 0.95)
		w.Held["minus"], w.Low = k*w.Held["minus"], w.Low-(1-k)*w.Held["minus"]
	}, nil},
	{Last, "supply sags while the output is low", onRail, func(rng *rand.Rand, w *bench) { w.move(1, between(rng, 0.75, 0.97), 0) }, nil},
	{Last, "worn electrolytic that soaks", others, func(rng *rand.Rand, w *bench) {
		w.Capacitors[0].Value *= between(rng, 0.5, 0.9)
		w.soak(between(rng, 0.03, 0.2), between(rng, 0.5, 5))
		w.contact(w.ohm * even(rng, 0.03, 0.5))
	}, []string{"C1"}},
	{Last, "old carbon resistors", every, func(rng *rand.Rand, w *bench) {
		w.everyResistor(func() float64 { return between(rng, 1.05, 1.3) })
	}, []string{"R1", "R2", "RV1", "R3", "R4"}},
	{Last, "worn timer", onPin, func(rng *rand.Rand, w *bench) {
		w.move(between(rng, 0.9, 1.08), between(rng, 0.9, 1.1), 0)
		w.Saturation = w.supply * between(rng, 0.02, 0.15)
		w.Draws[w.node] += w.supply / w.ohm / 3 * even(rng, 0.01, 0.2)
	}, nil},
	{Last, "two causes at the output", fromOut, func(rng *rand.Rand, w *bench) {
		w.inFeedback(w.ohm*even(rng, 0.02, 0.2), "both")
		w.Low += (w.High - w.Low) * between(rng, 0.02, 0.1)
	}, nil},
}

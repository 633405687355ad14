package fittest

// current is the sum of the currents into the capacitor's node at node voltage v, in amperes.
type current func(v float64) float64

// charging is the node's current while the output is high.
func (n Network) charging() current {
	switch n.Circuit {
	case Astable:
		return n.lossy(func(v float64) float64 { return n.throughR2(n.Supply, n.R1, v) })
	case AstableDiode:
		return n.lossy(func(v float64) float64 { return n.pastR2(n.Supply, n.R1, v) })
	case Monostable:
		return n.lossy(func(v float64) float64 { return (n.Supply - v) / n.R1 })
	case Multivibrator:
		return n.base(n.R1)
	default:
		return n.lossy(func(v float64) float64 { return (n.OutputHigh - v) / n.R1 })
	}
}

// discharging is the node's current while the output is low.
func (n Network) discharging() current {
	switch n.Circuit {
	case Astable:
		volt, ohm := n.pin()
		return n.lossy(func(v float64) float64 { return n.throughR2(volt, ohm, v) })
	case AstableDiode:
		volt, ohm := n.pin()
		return n.lossy(func(v float64) float64 { return n.pastR2(volt, ohm, v) })
	case Multivibrator:
		return n.base(n.R2)
	default:
		return n.lossy(func(v float64) float64 { return (n.OutputLow - v) / n.R1 })
	}
}

// lossy takes the leakage and the bias current off what a source brings.
func (n Network) lossy(source current) current {
	return func(v float64) float64 {
		i := source(v) - n.Bias
		if n.Leak > 0 {
			i -= v / n.Leak
		}
		return i
	}
}

// pin is the source that R1 and the closed switch make together, seen from the discharge pin with nothing
// else tied to it: R1 brings (Supply - pin)/R1, the switch takes (pin - Saturation)/resistance.
func (n Network) pin() (volt, ohm float64) {
	r := n.OnResistance + n.Weak
	return (n.Supply*r + n.Saturation*n.R1) / (n.R1 + r), n.R1 * r / (n.R1 + r)
}

// throughR2 is the current that a source of volt behind ohm sends through R2 to a node at v.
func (n Network) throughR2(volt, ohm, v float64) float64 { return (volt - v) / (ohm + n.R2) }

// pastR2 is the same with the diode across R2. Conducting, the diode holds the pin at v + Diode, and all that the
// source then gives reaches the node, be it by the diode or by R2.
func (n Network) pastR2(volt, ohm, v float64) float64 {
	i := n.throughR2(volt, ohm, v)
	if i*n.R2 > n.Diode {
		return (volt - v - n.Diode) / ohm
	}
	return i
}

// base is the current into the base node of the transistor that is off; the capacitor's other plate is held at
// Saturation by the one that is on.
func (n Network) base(r float64) current {
	return func(v float64) float64 {
		i := (n.Supply-v)/r - n.Bias
		if n.Leak > 0 {
			i -= (v - n.Saturation) / n.Leak
		}
		return i
	}
}

// resting is the node's voltage in the monostable before its trigger: the switch is on, and all currents balance.
func (n Network) resting() float64 {
	volt, ohm := n.pin()
	if ohm == 0 {
		return volt
	}
	return balance(n.lossy(func(v float64) float64 { return (volt - v) / ohm }), -10*n.Supply, 10*n.Supply)
}

// balance is the voltage in low..high at which a current that falls with voltage vanishes; the nearer end where it doesn't.
func balance(i current, low, high float64) float64 {
	for range 200 {
		mid := low + (high-low)/2
		if i(mid) > 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return low + (high-low)/2
}

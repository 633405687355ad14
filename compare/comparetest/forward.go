package comparetest

import (
	"math"

	"offbeat/fit/fittest"
)

// line is the capacitor's equation in one state: dv/dt = (rest - v)/tau. The node is ohm times the current above it.
type line struct{ rest, tau, conductance, ohm float64 }

// inner is the capacitor's voltage while the node is at v: the current into the node is conductance (rest - v).
func (l line) inner(v float64) float64 { return v - l.ohm*l.conductance*(l.rest-v) }

// phase is the capacitor between two flips of the switch: one line below the voltage kink, another above it.
type phase struct {
	below, above line
	kink         float64
	bend         float64 // the node's voltage there
}

// inner is the capacitor's voltage while the node is at v.
func (p *phase) inner(v float64) float64 {
	if v > p.bend {
		return p.above.inner(v)
	}
	return p.below.inner(v)
}

// at gives the line that holds when the node leaves v upwards or downwards.
func (p *phase) at(v float64, up bool) (l line, above bool) {
	if v > p.kink || v == p.kink && up {
		return p.above, true
	}
	return p.below, false
}

// reach is the time from v to level; ok is false if the node comes to rest before.
func (p *phase) reach(v, level float64) (t float64, ok bool) {
	up := level > v
	for range 3 {
		l, above := p.at(v, up)
		next := level
		if p.kink > min(v, level) && p.kink < max(v, level) && above != up {
			next = p.kink
		}
		ratio := (l.rest - v) / (l.rest - next)
		if !(ratio >= 1) || math.IsInf(ratio, 0) {
			return 0, false
		}
		t += l.tau * math.Log(ratio)
		if next == level {
			return t, true
		}
		v = next
	}
	return 0, false
}

// after is the node's voltage a time after it was at v.
func (p *phase) after(v, time float64, up bool) float64 {
	if time == 0 {
		return v
	}
	l, above := p.at(v, up)
	end := l.rest + (v-l.rest)*math.Exp(-time/l.tau)
	if above == up || (end > p.kink) == above {
		return end
	}
	return p.after(p.kink, time-l.tau*math.Log((l.rest-v)/(l.rest-p.kink)), up)
}

// fed is the line of a node of capacitance C that a source of volt behind ohm feeds, with the network's leak and bias.
func fed(n *fittest.Network, volt, ohm float64) line {
	g := 1 / ohm
	i := volt/ohm - n.Bias
	if n.Leak > 0 {
		g += 1 / n.Leak
	}
	return line{i / g, (n.C + n.Stray) * (1/g + n.Contact), g, n.Contact}
}

// single is a phase of one line.
func single(l line) phase { return phase{l, l, math.Inf(-1), math.Inf(-1)} }

// split is the phase of a source that feeds R2 with the diode across it: past it below the kink, through R2 above.
func split(n *fittest.Network, volt, ohm float64) phase {
	through := fed(n, volt, ohm+n.R2)
	if ohm == 0 {
		return single(through)
	}
	below, bend := fed(n, volt-n.Diode, ohm), volt-n.Diode*(ohm+n.R2)/n.R2
	return phase{below, through, below.inner(bend), bend}
}

// base is the line of a multivibrator's base node while its transistor is off.
func base(n *fittest.Network, ohm, farad float64) line {
	g := 1 / ohm
	i := n.Supply/ohm - n.Bias
	if n.Leak > 0 {
		g += 1 / n.Leak
		i += n.Saturation / n.Leak
	}
	return line{i / g, farad / g, g, 0}
}

// phases are the charge and the discharge of a circuit that runs to and fro at one node, and its thresholds.
func phases(n *fittest.Network) (charge, discharge phase, upper, lower float64) {
	upper, lower = n.Upper*n.Supply, n.Lower*n.Supply
	sink := n.OnResistance + n.Weak
	volt, ohm := (n.Supply*sink+n.Saturation*n.R1)/(n.R1+sink), n.R1*sink/(n.R1+sink)
	switch n.Circuit {
	case fittest.Astable:
		charge = single(fed(n, n.Supply, n.R1+n.R2))
		discharge = single(fed(n, volt, ohm+n.R2))
	case fittest.AstableDiode:
		charge = split(n, n.Supply, n.R1)
		discharge = split(n, volt, ohm)
	default:
		if n.Circuit == fittest.Comparator {
			upper, lower = n.Reference+n.Feedback*(n.OutputHigh-n.Reference), n.Reference+n.Feedback*(n.OutputLow-n.Reference)
		}
		charge = single(fed(n, n.OutputHigh, n.R1))
		discharge = single(fed(n, n.OutputLow, n.R1))
	}
	return charge, discharge, upper, lower
}

// midway are the times (s) that the node spends above and below the middle of its swing.
func midway(n *fittest.Network) (above, below float64, ok bool) {
	charge, discharge, upper, lower := phases(n)
	peak, valley := charge.after(upper, n.DelayFall, true), discharge.after(lower, n.DelayRise, false)
	middle := (peak + valley) / 2
	rise, up := charge.reach(valley, middle)
	on, more := charge.reach(middle, peak)
	fall, down := discharge.reach(peak, middle)
	off, less := discharge.reach(middle, valley)
	return on + fall, off + rise, up && more && down && less
}

// Times gives the high and low time (s) of a network of one of Circuits in closed form, by chained exponentials; ok is
// false if it does not run. Fields mean what fittest.Network says, but the thresholds and the output's high level must be
// given, and the multivibrator's second pair of parts.
func Times(n *fittest.Network) (high, low float64, ok bool) {
	switch n.Circuit {
	case fittest.Multivibrator:
		start := n.BaseEmitter - n.Supply + n.Saturation
		if n.Breakdown > 0 && start < -n.Breakdown {
			start = -n.Breakdown
		}
		first, second := single(base(n, n.R1, n.C)), single(base(n, n.R2, n.C2))
		high, up := first.reach(start, n.BaseEmitter)
		low, down := second.reach(start, n.BaseEmitter)
		return high, low, up && down
	case fittest.Monostable:
		sink := n.OnResistance + n.Weak
		volt, ohm := (n.Supply*sink+n.Saturation*n.R1)/(n.R1+sink), n.R1*sink/(n.R1+sink)
		charge := single(fed(n, n.Supply, n.R1))
		rest := volt
		if ohm > 0 {
			rest = fed(n, volt, ohm).rest
		}
		top := charge.inner(n.Upper * n.Supply)
		if rest >= top {
			return 0, 0, false
		}
		high, ok = charge.reach(rest, top)
		return high + n.DelayFall, 0, ok
	}
	charge, discharge, upper, lower := phases(n)
	full, empty := charge.inner(upper), discharge.inner(lower)
	bottom := discharge.after(empty, n.DelayRise, false)
	top := charge.after(full, n.DelayFall, true)
	if bottom >= full || top <= empty {
		return 0, 0, false
	}
	high, up := charge.reach(bottom, full)
	low, down := discharge.reach(top, empty)
	return high + n.DelayFall, low + n.DelayRise, up && down
}

package main

// board is one lamp timer as it really is: the values that were fitted, not those of the drawing.
type board struct {
	file   string
	r1, r2 float64 // ohm; r2 0: a monostable, r1 alone charges the capacitor
	c      float64 // F
	leak   float64 // ohm across the capacitor; 0: none
	supply float64 // V
	end    float64 // s recorded
	every  float64 // s between triggers of a monostable
	probe  float64 // ohm of a probe on the capacitor; 0: none
	seed   uint64
	export func(trace) string
}

// A timer of the bipolar kind, the same on every board (invented, within the data sheets' ranges).
const (
	upper    = 0.6665 // of the supply
	lower    = 0.3334 // of the supply
	sinkAt   = 0.020  // V, the discharge switch at no current
	sinkOhm  = 15.0   // ohm, its on-resistance
	current  = 30e-9  // A, drawn by the threshold pin
	delay    = 0.5e-6 // s, comparator to output
	headroom = 1.4    // V, by which the output's high level stays below the supply
	floor    = 0.08   // V, the output's low level
)

// step is the integration step in s; halving it moves no edge by more than 1 ns.
const step = 0.5e-6

// point is the capacitor's voltage at an instant.
type point struct{ at, volt float64 }

// edge is a change of the output.
type edge struct {
	at   float64 // s
	high bool
}

// trace is what the output did.
type trace struct {
	board
	edges     []edge  // in time; the first is the level at the start, at -1 s
	capacitor []point // in time, from 0 on; of boards with a probe on it
}

// charging is the current into the capacitor's plate while the discharge switch is open (Kirchhoff): the supply
// through the resistors, less the threshold pin's current and the leak.
func (b *board) charging(v float64) float64 {
	return (b.supply-v)/(b.r1+b.r2) - current - b.leakage(v)
}

// discharging is the same with the switch closed. The switch's pin lies at the voltage where the currents from
// the supply through r1 and from the capacitor through r2 add up to what the switch sinks.
func (b *board) discharging(v float64) float64 {
	pin := (b.supply/b.r1 + v/b.r2 + sinkAt/sinkOhm) / (1/b.r1 + 1/b.r2 + 1/sinkOhm)
	return (pin-v)/b.r2 - current - b.leakage(v)
}

// leakage is what flows past the capacitor: through its own leak, and through a probe on it.
func (b *board) leakage(v float64) float64 {
	i := 0.0
	for _, r := range []float64{b.leak, b.probe} {
		if r > 0 {
			i += v / r
		}
	}
	return i
}

// advance is one Runge-Kutta step of the fourth order of c dv/dt = i(v).
func advance(v, h, c float64, i func(float64) float64) float64 {
	k1 := i(v) / c
	k2 := i(v+h/2*k1) / c
	k3 := i(v+h/2*k2) / c
	k4 := i(v+h*k3) / c
	return v + h/6*(k1+2*k2+2*k3+k4)
}

// run records the board's output from time 0 to its end.
func (b board) run() trace {
	if b.r2 == 0 {
		return b.pulses()
	}
	t := trace{board: b, edges: []edge{{-1, true}}}
	v := b.supply * 0.41 // somewhere in its swing
	for now, high := 0.0, true; now < b.end; high = !high {
		limit := upper * b.supply
		i := b.charging
		if !high {
			limit, i = lower*b.supply, b.discharging
		}
		now, v = t.phase(now, v, limit, i)
		t.edges = append(t.edges, edge{now, !high})
	}
	return t
}

// pulses records a monostable: each trigger lets the capacitor charge from the closed switch.
func (b board) pulses() trace {
	t := trace{board: b, edges: []edge{{-1, false}}}
	for start := 0.31 * b.every; start < b.end; start += b.every {
		stop, _ := t.phase(start, sinkAt, upper*b.supply, b.charging)
		t.edges = append(t.edges, edge{start, true}, edge{stop, false})
	}
	return t
}

// phase integrates from now until the capacitor has crossed the limit and the comparator's delay has passed;
// it returns that time and the capacitor's voltage then.
func (t *trace) phase(now, v, limit float64, i func(float64) float64) (float64, float64) {
	rising := v < limit
	for {
		if t.probe > 0 {
			t.capacitor = append(t.capacitor, point{now, v})
		}
		w := advance(v, step, t.c, i)
		if (w >= limit) == rising {
			cross := step * (limit - v) / (w - v) // the path is straight within a step
			return now + cross + delay, advance(v, cross+delay, t.c, i)
		}
		now, v = now+step, w
	}
}

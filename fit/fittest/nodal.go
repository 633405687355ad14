package fittest

import (
	"cmp"
	"errors"
	"fmt"
	"math"
)

// usualOhm is by what the currents among the unknowns are multiplied, so that they are of the voltages' size.
const usualOhm = 1e4

// system is a board as modified nodal analysis has it (Ho, Ruehli and Brennan 1975): the unknowns are the voltages of the
// free nodes, then the currents of the diodes and of the switch. mass y' = f - rates y.
type system struct {
	b      *Board
	index  map[string]int // of the free nodes
	names  []string
	y      []float64
	c      [radauStages]float64
	a      [radauStages][radauStages]float64
	scale  float64 // V
	quick  float64 // s, well below the fastest time constant that matters
	slow   float64 // s, the longest one
	steady bool
	most   float64          // s, the longest step; 0: as long as the error allows
	seen   func(at float64) // is told of every step: its middle and when it ends, from the beginning of the state of the device
	stages [][]float64      // scratch of advance
	ends   [][]float64      // likewise
}

func (b *Board) system() (*system, error) {
	s := &system{b: b, index: map[string]int{}}
	s.c, s.a = collocation()
	add := func(n string) {
		if _, held := b.Held[n]; n == "" || n == "ground" || n == b.Output || held {
			return
		}
		if _, ok := s.index[n]; !ok {
			s.index[n] = len(s.names)
			s.names = append(s.names, n)
		}
	}
	for _, list := range [][]Two{b.Resistors, b.Capacitors, b.Diodes} {
		for _, e := range list {
			if list := e.Value; !(list >= 0) {
				return nil, fmt.Errorf("fittest: %s-%s has the value %g", e.A, e.B, e.Value)
			}
			add(e.A)
			add(e.B)
		}
	}
	add(b.Switch)
	s.y = make([]float64, len(s.names)+len(b.Diodes)+1)
	s.scale = math.Abs(b.High-b.Low) + 1e-3
	most, largest, fastest := 0.0, 0.0, math.Inf(1)
	for _, c := range b.Capacitors {
		largest += c.Value
		for _, r := range b.Resistors {
			fastest = min(fastest, r.Value*c.Value)
		}
		if b.Ohm > 0 {
			fastest = min(fastest, b.Ohm*c.Value)
		}
	}
	for _, r := range b.Resistors {
		most += r.Value
	}
	if largest == 0 || most == 0 {
		return nil, errors.New("fittest: a board needs a capacitor and a resistor")
	}
	s.slow, s.quick = most*largest, 1e-9*fastest
	return s, nil
}

// held is the voltage of a node that is not free.
func (s *system) held(n string, low bool) float64 {
	switch {
	case n == s.b.Output && low:
		return s.b.Low
	case n == s.b.Output:
		return s.b.High
	}
	return s.b.Held[n]
}

// equations are mass y' = f - rates y, and what a step of each length that was asked for does: y becomes by y + to.
type equations struct {
	mass, rates [][]float64
	f           []float64
	steps       map[float64][][]float64 // rows of by, each with its to at the end; nil: singular
}

// matrices lays out the equations of a state of the device and of the diodes.
func (s *system) matrices(low bool, mask int) *equations {
	n := len(s.y)
	mass, rates, f := square(n), square(n), make([]float64, n)
	stamp := func(m [][]float64, e Two, by float64, withHeld bool) {
		i, freeA := s.index[e.A]
		j, freeB := s.index[e.B]
		if freeA {
			m[i][i] += by
			if freeB {
				m[i][j] -= by
			} else if withHeld {
				f[i] += by * s.held(e.B, low)
			}
		}
		if freeB {
			m[j][j] += by
			if freeA {
				m[j][i] -= by
			} else if withHeld {
				f[j] += by * s.held(e.A, low)
			}
		}
	}
	for _, c := range s.b.Capacitors {
		stamp(mass, c, c.Value, false)
	}
	for _, r := range s.b.Resistors {
		stamp(rates, r, 1/r.Value, true)
	}
	for name, i := range s.b.Draws {
		if k, ok := s.index[name]; ok {
			f[k] -= i
		}
	}
	branch := func(row int, a, b string, volt, ohm float64) { // v(a) - v(b) - ohm i = volt, i from a to b
		if i, ok := s.index[a]; ok {
			rates[i][row] += 1 / usualOhm
			rates[row][i]++
		} else {
			volt -= s.held(a, low)
		}
		if j, ok := s.index[b]; ok {
			rates[j][row] -= 1 / usualOhm
			rates[row][j]--
		} else {
			volt += s.held(b, low)
		}
		rates[row][row] -= ohm / usualOhm
		f[row] += volt
	}
	at := len(s.names)
	for k, d := range s.b.Diodes {
		if mask>>k&1 == 1 {
			ohm := 0.0
			if s.ties(d) {
				ohm = tieOhm
			}
			branch(at+k, d.A, d.B, d.Value, ohm)
		} else {
			rates[at+k][at+k] = 1
		}
	}
	k := n - 1
	if low && s.b.Switch != "" {
		branch(k, s.b.Switch, "ground", s.b.Saturation, s.b.Ohm)
	} else {
		rates[k][k] = 1
	}
	return &equations{mass, rates, f, map[float64][][]float64{}}
}

// ties says whether a diode lies between two held nodes or two nodes with capacitors.
func (s *system) ties(d Two) bool {
	kind := func(n string) int {
		if _, free := s.index[n]; !free {
			return 1
		}
		for _, c := range s.b.Capacitors {
			if c.A == n || c.B == n {
				return 2
			}
		}
		return 0
	}
	return kind(d.A) == kind(d.B) && kind(d.A) > 0
}

func matrix(rows, columns int) [][]float64 {
	m, all := make([][]float64, rows), make([]float64, rows*columns)
	for i := range m {
		m[i] = all[i*columns : (i+1)*columns]
	}
	return m
}

func square(n int) [][]float64 { return matrix(n, n) }

// step is the solution after h from y. The equations are linear: what a step of one length does is found once.
func (s *system) step(y []float64, h float64, e *equations) ([]float64, bool) {
	rows, known := e.steps[h]
	if !known {
		rows = s.advance(h, e)
		e.steps[h] = rows
	}
	if rows == nil {
		return nil, false
	}
	n := len(y)
	out := make([]float64, n)
	for p, row := range rows {
		sum := row[n]
		for q, v := range y {
			sum += row[q] * v
		}
		out[p] = sum
	}
	return out, true
}

// advance is what a step does: all stages at once, (mass + h a rates) k = …, for y' of each stage's end value, from every y.
func (s *system) advance(h float64, e *equations) [][]float64 {
	n := len(e.f)
	if s.stages == nil {
		s.stages, s.ends = matrix(n*radauStages, n*radauStages), matrix(n*radauStages, n+1)
	}
	m, r := s.stages, s.ends
	for row := range m {
		clear(m[row])
		clear(r[row])
	}
	// Unknowns: the stage values Y(i). mass (Y(i) - y) = h Σ a(i,j) (f - rates Y(j)).
	for i := range radauStages {
		for p := range n {
			row := i*n + p
			copy(r[row], e.mass[p])
			for q := range n {
				m[row][i*n+q] += e.mass[p][q]
				for j := range radauStages {
					m[row][j*n+q] += h * s.a[i][j] * e.rates[p][q]
				}
			}
			for j := range radauStages {
				r[row][n] += h * s.a[i][j] * e.f[p]
			}
		}
	}
	// Rows of what no capacitor holds are scaled by h: they would drown otherwise.
	for row := range m {
		big := 0.0
		for _, x := range m[row] {
			big = max(big, math.Abs(x))
		}
		if big == 0 {
			return nil
		}
		for k := range m[row] {
			m[row][k] /= big
		}
		for k := range r[row] {
			r[row][k] /= big
		}
	}
	if !dense(m, r) {
		return nil
	}
	out := matrix(n, n+1)
	for p, row := range r[n*(radauStages-1):] {
		copy(out[p], row)
	}
	return out
}

// power empties all capacitors.
func (s *system) power(low bool) {
	s.redistribute(func(name string) float64 { return s.held(name, low) })
}

// redistribute finds the voltages of the nodes with capacitors for which each such node's charge is what it would be with
// the other nodes moved by what by says, from nought.
func (s *system) redistribute(by func(held string) float64) {
	n := len(s.names)
	m, q := square(n), make([][]float64, n)
	for i := range q {
		q[i] = []float64{0}
	}
	for _, c := range s.b.Capacitors {
		for _, end := range [2][2]string{{c.A, c.B}, {c.B, c.A}} {
			i, free := s.index[end[0]]
			if !free {
				continue
			}
			m[i][i] += c.Value
			if j, other := s.index[end[1]]; other {
				m[i][j] -= c.Value
			} else {
				q[i][0] += c.Value * by(end[1])
			}
		}
	}
	for i := range m {
		m[i][i] = cmp.Or(m[i][i], 1)
	}
	if dense(m, q) {
		for i := range q {
			s.y[i] += q[i][0]
		}
	}
}

// switchTo moves the output and lets the capacitors share their charge.
func (s *system) switchTo(low bool) {
	jump := s.b.High - s.b.Low
	if low {
		jump = -jump
	}
	s.redistribute(func(name string) float64 {
		if name == s.b.Output {
			return jump
		}
		return 0
	})
}

// conducting finds which diodes conduct from here on: a short step in which every diode is as it should be and no capacitor
// jumps; where there is none, as just after power-up, capacitors jump first to where diodes hold them.
func (s *system) conducting(low bool) (int, error) {
	var hard []float64 // after a capacitor has jumped to where a diode holds it
	for mask := range 1 << len(s.b.Diodes) {
		e := s.matrices(low, mask)
		y, ok := s.step(s.y, s.quick, e)
		if !ok || !s.fits(y, low, mask, 1e-12) {
			continue
		}
		jumps := false
		for _, c := range s.b.Capacitors {
			for _, name := range []string{c.A, c.B} {
				if i, free := s.index[name]; free && math.Abs(y[i]-s.y[i]) > 1e-6*s.scale && s.conducts(name, mask) {
					jumps = true
				}
			}
		}
		if !jumps {
			return mask, nil
		}
		if hard == nil {
			hard = y
		}
	}
	if hard != nil {
		copy(s.y, hard)
		return s.conducting(low)
	}
	return 0, fmt.Errorf("fittest: no state of the diodes fits at %v", s.y)
}

// conducts says whether a conducting diode has an end on the node.
func (s *system) conducts(name string, mask int) bool {
	for k, d := range s.b.Diodes {
		if mask>>k&1 == 1 && (d.A == name || d.B == name) {
			return true
		}
	}
	return false
}

// fits says whether every conducting diode carries forward current and every other one blocks.
func (s *system) fits(y []float64, low bool, mask int, slack float64) bool {
	return s.least(y, low, mask) >= -slack*s.scale
}

// least is the smallest margin of all diodes.
func (s *system) least(y []float64, low bool, mask int) float64 {
	least := math.Inf(1)
	for k, d := range s.b.Diodes {
		least = min(least, s.margin(y, low, mask, k, d))
	}
	return least
}

// margin is by how much a diode is as the mask says: its current times usualOhm, or the voltage that it still blocks.
func (s *system) margin(y []float64, low bool, mask, k int, d Two) float64 {
	if mask>>k&1 == 1 {
		return y[len(s.names)+k]
	}
	return d.Value - (s.at(y, d.A, low) - s.at(y, d.B, low))
}

func (s *system) at(y []float64, name string, low bool) float64 {
	if i, free := s.index[name]; free {
		return y[i]
	}
	return s.held(name, low)
}

// due is by how much the state's end has come: at or above zero all its tests hold.
func (s *system) due(y []float64, low bool) float64 {
	tests := s.b.FallWhen
	if low {
		tests = s.b.RiseWhen
	}
	least := math.Inf(1)
	side := func(name string, by float64) float64 {
		if name == "" {
			return by
		}
		return by * s.at(y, name, low)
	}
	for _, t := range tests {
		least = min(least, side(t.Left, t.LeftBy)-side(t.Right, t.RightBy))
	}
	return least
}

// half runs the board to the end of a state of the device; first is the one of power-up, which may end at once.
func (s *system) half(low, first bool) (took float64, err error) {
	delay := s.b.DelayFall
	if low {
		delay = s.b.Delay
	}
	mask, err := s.conducting(low)
	if err != nil {
		return 0, err
	}
	e := s.matrices(low, mask)
	begun, ok := s.step(s.y, s.quick, e)
	if !ok {
		return 0, errors.New("fittest: the equations are singular")
	}
	crossed := s.due(begun, low) >= 0
	if crossed && !first {
		return 0, s.stop(low)
	}
	left := delay
	h := 0.03 * s.slow
	for steps := 0; ; steps++ {
		if steps > 20000 {
			return 0, errors.New("fittest: too many steps")
		}
		if crossed && left == 0 {
			s.switchTo(!low)
			return took, nil
		}
		if crossed {
			h = min(h, left)
		}
		if s.most > 0 {
			h = min(h, s.most)
		}
		y, ok := s.step(s.y, h, e)
		if !ok {
			return 0, errors.New("fittest: the equations are singular")
		}
		// Two half steps tell the error.
		mid, _ := s.step(s.y, h/2, e)
		fine, ok := s.step(mid, h/2, e)
		if !ok {
			return 0, errors.New("fittest: the equations are singular")
		}
		worst := 0.0
		for i := range s.names {
			worst = max(worst, math.Abs(y[i]-fine[i]))
		}
		// Of order 9, so that the error of a step grows as its tenth power. Powers of two, so that one cycle is as the one before.
		next := h * math.Exp2(math.Floor(max(-3, min(2, math.Log2(stepTolerance*s.scale/worst)/10))))
		if worst > stepTolerance*s.scale && h > s.quick {
			h = next
			continue
		}
		// What ends the step early: a diode, or the state's end. left is above zero as long as neither has come.
		before := func(y []float64) float64 {
			least := s.least(y, low, mask) + 1e-11*s.scale
			if !crossed {
				least = min(least, -s.due(y, low))
			}
			return least
		}
		taken := h
		if before(fine) < 0 || before(mid) < 0 {
			from, to := 0.0, h
			if before(mid) < 0 {
				to, fine = h/2, mid
			}
			a, b, last := max(before(s.y), 0), before(fine), false
			for k := range 300 {
				t := from + (to-from)*a/(a-b) // false position, an end that stays halved (Illinois)
				if k%8 == 7 || !(t > from && t < to) {
					t = from + (to-from)/2
				}
				if t == from || t == to || to-from < 1e-14*(took+to) {
					break
				}
				z, _ := s.step(s.y, t, e)
				g := before(z)
				if math.Abs(g) < rounding*s.scale {
					to = t
					break
				}
				past := g < 0
				if past {
					to, b = t, g
				} else {
					from, a = t, g
				}
				switch { // the same end again
				case k > 0 && past && last:
					a /= 2
				case k > 0 && !past && !last:
					b /= 2
				}
				last = past
			}
			taken = to
			fine, _ = s.step(s.y, taken, e)
		}
		rest := true
		for i := range s.names {
			rest = rest && math.Abs(fine[i]-s.y[i]) < 1e-13*s.scale
			if math.Abs(fine[i]) > adrift*s.scale {
				return 0, s.stop(low)
			}
		}
		if s.seen != nil {
			if taken < h {
				mid, _ = s.step(s.y, taken/2, e)
			}
			copy(s.y, mid)
			s.seen(took + taken/2)
		}
		copy(s.y, fine)
		took += taken
		if s.seen != nil {
			s.seen(took)
		}
		if crossed {
			left = max(left-taken, 0)
		}
		if !crossed && s.due(s.y, low) >= -rounding*s.scale {
			crossed, left = true, delay
		}
		if !s.fits(s.y, low, mask, 1e-11) || taken < h {
			if mask, err = s.conducting(low); err != nil {
				return 0, err
			}
			e = s.matrices(low, mask)
			h = 0.03 * s.slow
			continue
		}
		if !crossed && rest && (h > s.slow || took > stopped*s.slow) {
			return 0, s.stop(low)
		}
		h = next
	}
}

// rest lets the low state come to rest, then switches the output high. A step in which a diode changes is halved until it ends
// there.
func (s *system) rest() error {
	for range 100 {
		mask, err := s.conducting(true)
		if err != nil {
			return err
		}
		e, h, same := s.matrices(true, mask), s.slow, true
		for k := 0; k < 400 && same; k++ {
			y, ok := s.step(s.y, h, e)
			if !ok {
				return errors.New("fittest: the equations are singular")
			}
			if fits := s.fits(y, true, mask, 1e-11); fits || h < 1e-13*s.slow {
				copy(s.y, y)
				same = fits
			} else {
				h /= 2
			}
		}
		if same {
			s.switchTo(false)
			return nil
		}
	}
	return errors.New("fittest: the low state does not come to rest")
}

func (s *system) stop(low bool) error {
	e := &StopError{low, map[string]float64{}}
	for i, n := range s.names {
		e.Rest[n] = s.y[i]
	}
	return e
}

package circuit

import "slices"

// opcode is what one instruction of a tape does.
type opcode uint8

const (
	opAdd    opcode = iota // a + b
	opSub                  // a - b
	opMul                  // a * b
	opDiv                  // a / b
	opMulAdd               // a*b + c
	opSubMul               // c - a*b
	opInvert               // 1 / a
	opPath                 // 1 / a, and 0 where a is 0: the conductance of what is absent
	opLeast                // a, or leastOhm where a is less: a resistance that something must be divided by
	opConst                // the constant of that number
	opSlot                 // not an instruction: a slot of the values
)

// leastOhm is the resistance in ohm below which a contact or the end of a track is not told from a wire.
const leastOhm = 1e-6

// Registers of a run: the constants, then the slots that the tape reads, then what it computes.
const (
	tinyTape  = 32
	smallTape = 64
	largeTape = 256
)

// expr is a value of a tape under construction: the number of its term.
type expr int32

// term is one value: the result of an operation on others, a slot, or a constant.
type term struct {
	op      opcode
	a, b, c expr
	x       float64 // opConst
}

// builder makes expressions, each distinct one once, and folds what is known.
type builder struct {
	terms  []term
	known  map[term]expr
	absent []Slot // faults that there are none of: zero
}

func newBuilder() *builder { return &builder{known: map[term]expr{}} }

func (b *builder) make(n term) expr {
	if e, ok := b.known[n]; ok {
		return e
	}
	e := expr(len(b.terms))
	b.terms = append(b.terms, n)
	b.known[n] = e
	return e
}

func (b *builder) constant(x float64) expr { return b.make(term{op: opConst, x: x}) }

func (b *builder) slot(s Slot) expr {
	if b.lacks(s) {
		return b.constant(0)
	}
	return b.make(term{op: opSlot, a: expr(s)})
}

func (b *builder) lacks(s Slot) bool { return slices.Contains(b.absent, s) }

// is says whether e is that constant.
func (b *builder) is(e expr, x float64) bool { return b.terms[e].op == opConst && b.terms[e].x == x }

func (b *builder) both(e, f expr) (x, y float64, ok bool) {
	m, n := b.terms[e], b.terms[f]
	return m.x, n.x, m.op == opConst && n.op == opConst
}

func (b *builder) add(e, f expr) expr {
	if x, y, ok := b.both(e, f); ok {
		return b.constant(x + y)
	}
	if b.is(e, 0) {
		return f
	}
	if b.is(f, 0) {
		return e
	}
	if n, ok := b.negated(e); ok {
		return b.sub(f, n)
	}
	if n, ok := b.negated(f); ok {
		return b.sub(e, n)
	}
	if n := b.terms[e]; n.op == opMul {
		return b.make(term{op: opMulAdd, a: n.a, b: n.b, c: f})
	}
	if n := b.terms[f]; n.op == opMul {
		return b.make(term{op: opMulAdd, a: n.a, b: n.b, c: e})
	}
	return b.make(term{op: opAdd, a: min(e, f), b: max(e, f)})
}

func (b *builder) sub(e, f expr) expr {
	if x, y, ok := b.both(e, f); ok {
		return b.constant(x - y)
	}
	if b.is(f, 0) {
		return e
	}
	if e == f {
		return b.constant(0)
	}
	if n := b.terms[f]; n.op == opMul {
		return b.make(term{op: opSubMul, a: n.a, b: n.b, c: e})
	}
	return b.make(term{op: opSub, a: e, b: f})
}

func (b *builder) mul(e, f expr) expr {
	if x, y, ok := b.both(e, f); ok {
		return b.constant(x * y)
	}
	for range 2 {
		switch {
		case b.is(e, 0):
			return e
		case b.is(e, 1):
			return f
		}
		if n, ok := b.negated(e); ok {
			return b.negative(b.mul(n, f))
		}
		e, f = f, e
	}
	if n := b.terms[f]; n.op == opInvert {
		return b.div(e, n.a)
	}
	if n := b.terms[e]; n.op == opInvert {
		return b.div(f, n.a)
	}
	return b.make(term{op: opMul, a: min(e, f), b: max(e, f)})
}

func (b *builder) div(e, f expr) expr {
	if x, y, ok := b.both(e, f); ok && y != 0 {
		return b.constant(x / y)
	}
	switch {
	case b.is(e, 0), b.is(f, 1):
		return e
	case b.is(f, -1):
		return b.negative(e)
	case e == f:
		return b.constant(1)
	case b.is(e, 1):
		return b.invert(f)
	}
	if n := b.terms[f]; n.op == opInvert {
		return b.mul(e, n.a)
	}
	return b.make(term{op: opDiv, a: e, b: f})
}

func (b *builder) invert(e expr) expr {
	n := b.terms[e]
	switch {
	case n.op == opInvert:
		return n.a
	case n.op == opDiv:
		return b.div(n.b, n.a)
	case n.op == opConst && n.x != 0:
		return b.constant(1 / n.x)
	}
	return b.make(term{op: opInvert, a: e})
}

func (b *builder) path(e expr) expr { return b.make(term{op: opPath, a: e}) }

func (b *builder) least(e expr) expr { return b.make(term{op: opLeast, a: e}) }

// negated is what e is the negative of, where it is one.
func (b *builder) negated(e expr) (expr, bool) {
	switch n := b.terms[e]; {
	case n.op == opSub && b.is(n.a, 0):
		return n.b, true
	case n.op == opSubMul && b.is(n.c, 0):
		return b.make(term{op: opMul, a: n.a, b: n.b}), true
	}
	return e, false
}

func (b *builder) negative(e expr) expr {
	if n, ok := b.negated(e); ok {
		return n
	}
	return b.sub(b.constant(0), e)
}

// instruction is one step of a tape.
type instruction struct {
	op          opcode
	to, a, b, c uint16
}

// tape computes some expressions from the values: a straight line of instructions.
type tape struct {
	code      []instruction
	constants []float64
	slots     []Slot   // that are read
	out       []uint16 // the registers of the outputs
	size      int      // registers used
}

// compile orders what the outputs need and gives each a register, one that is free again where there is one.
func (b *builder) compile(outputs ...expr) *tape {
	t := &tape{}
	uses := make([]int, len(b.terms))
	var leaves []expr
	var count func(e expr)
	count = func(e expr) {
		if uses[e]++; uses[e] > 1 {
			return
		}
		if op := b.terms[e].op; op == opSlot || op == opConst {
			leaves = append(leaves, e)
		}
		for _, a := range b.operands(e) {
			count(a)
		}
	}
	for _, e := range outputs {
		count(e)
		uses[e]++ // an output is never done with
	}
	register := make([]int, len(b.terms))
	for i := range register {
		register[i] = -1
	}
	for _, op := range []opcode{opConst, opSlot} {
		for _, e := range leaves {
			if n := b.terms[e]; n.op == op {
				register[e] = t.size
				t.size++
				if op == opConst {
					t.constants = append(t.constants, n.x)
				} else {
					t.slots = append(t.slots, Slot(n.a))
				}
			}
		}
	}
	var free []int
	var emit func(e expr) uint16
	emit = func(e expr) uint16 {
		if register[e] >= 0 {
			return uint16(register[e])
		}
		i, args := instruction{op: b.terms[e].op}, b.operands(e)
		for k, to := range []*uint16{&i.a, &i.b, &i.c}[:len(args)] {
			*to = emit(args[k])
		}
		for _, a := range args {
			if uses[a]--; uses[a] == 0 {
				free = append(free, register[a])
			}
		}
		if k := len(free); k > 0 {
			register[e], free = free[k-1], free[:k-1]
		} else {
			register[e] = t.size
			t.size++
		}
		i.to = uint16(register[e])
		t.code = append(t.code, i)
		return i.to
	}
	for _, e := range outputs {
		t.out = append(t.out, emit(e))
	}
	return t
}

// operands are what a term is made of.
func (b *builder) operands(e expr) []expr {
	n := b.terms[e]
	switch n.op {
	case opConst, opSlot:
		return nil
	case opInvert, opPath, opLeast:
		return []expr{n.a}
	case opMulAdd, opSubMul:
		return []expr{n.a, n.b, n.c}
	}
	return []expr{n.a, n.b}
}

// registers are the sizes of what a tape runs in: the smaller, the less there is to clear.
type registers interface {
	[tinyTape]float64 | [smallTape]float64 | [largeTape]float64
}

// compute runs a tape that needs no more registers than r has: a power of two, so that a mask keeps within.
func compute[R registers](t *tape, v *Values, r *R) {
	mask := len(*r) - 1
	n := len(t.constants)
	for i, x := range t.constants {
		(*r)[i&mask] = x
	}
	for i, s := range t.slots {
		(*r)[(n+i)&mask] = v[s]
	}
	for i := range t.code {
		k := &t.code[i]
		a, b := (*r)[int(k.a)&mask], (*r)[int(k.b)&mask]
		switch k.op {
		case opAdd:
			a += b
		case opSub:
			a -= b
		case opMul:
			a *= b
		case opDiv:
			a /= b
		case opMulAdd:
			a = a*b + (*r)[int(k.c)&mask]
		case opSubMul:
			a = (*r)[int(k.c)&mask] - a*b
		case opInvert:
			a = 1 / a
		case opPath:
			if a != 0 {
				a = 1 / a
			}
		case opLeast:
			a = max(a, leastOhm)
		}
		(*r)[int(k.to)&mask] = a
	}
}

// eval computes the tape's outputs into out.
func (t *tape) eval(v *Values, out []float64) {
	if t.size <= smallTape {
		evalIn[[smallTape]float64](t, v, out)
	} else {
		evalIn[[largeTape]float64](t, v, out)
	}
}

func evalIn[R registers](t *tape, v *Values, out []float64) {
	var r R
	compute(t, v, &r)
	for i, k := range t.out {
		out[i] = r[k]
	}
}

// reads says whether a slot has a say in the outputs.
func (t *tape) reads(s Slot) bool { return slices.Contains(t.slots, s) }

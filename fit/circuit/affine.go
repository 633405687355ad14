package circuit

// affine is a voltage or a current as it depends on the charged nodes: a constant and a factor for each.
type affine struct {
	constant expr
	factor   []expr
}

func (n *network) fixed(e expr) affine {
	a := affine{e, make([]expr, len(n.charged))}
	for i := range a.factor {
		a.factor[i] = n.b.constant(0)
	}
	return a
}

// of is the affine of a charged node's own voltage.
func (n *network) of(state int) affine {
	a := n.fixed(n.b.constant(0))
	a.factor[state] = n.b.constant(1)
	return a
}

func (n *network) plus(a, b affine) affine {
	out := affine{n.b.add(a.constant, b.constant), make([]expr, len(a.factor))}
	for i := range a.factor {
		out.factor[i] = n.b.add(a.factor[i], b.factor[i])
	}
	return out
}

func (n *network) minus(a, b affine) affine {
	out := affine{n.b.sub(a.constant, b.constant), make([]expr, len(a.factor))}
	for i := range a.factor {
		out.factor[i] = n.b.sub(a.factor[i], b.factor[i])
	}
	return out
}

func (n *network) times(a affine, e expr) affine {
	out := affine{n.b.mul(a.constant, e), make([]expr, len(a.factor))}
	for i := range a.factor {
		out.factor[i] = n.b.mul(a.factor[i], e)
	}
	return out
}

// all are the affine's expressions in a row: the constant first.
func (a affine) all() []expr { return append([]expr{a.constant}, a.factor...) }

package circuit

// affine is a voltage or a current as it depends on the charged nodes: a constant, then a factor for each.
type affine []expr

func (n *network) fixed(e expr) affine {
	a := affine{e}
	for range n.charged {
		a = append(a, n.b.constant(0))
	}
	return a
}

// of is the affine of a charged node's own voltage.
func (n *network) of(state int) affine {
	a := n.fixed(n.b.constant(0))
	a[1+state] = n.b.constant(1)
	return a
}

// each makes an affine of two, term by term.
func each(a, b affine, do func(x, y expr) expr) affine {
	out := make(affine, len(a))
	for i := range a {
		out[i] = do(a[i], b[i])
	}
	return out
}

func (n *network) plus(a, b affine) affine  { return each(a, b, n.b.add) }
func (n *network) minus(a, b affine) affine { return each(a, b, n.b.sub) }

func (n *network) times(a affine, e expr) affine {
	return each(a, a, func(x, _ expr) expr { return n.b.mul(x, e) })
}

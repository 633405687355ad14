package circuit

import (
	"fmt"
	"slices"

	"offbeat/fit/wiring"
)

// Limits of what one wiring may hold.
const (
	mostStates = 6 // charged nodes
	mostDiodes = 6 // that have a bearing on the times
)

// strayFarad is what a node has to ground that capacitors tie to other nodes alone: its own stray capacitance, so that it has
// a voltage at every moment (common practice: a picofarad).
const strayFarad = 1e-12

// oneOhm is what a diode gets that would tie two held or two charged nodes, ohm.
const oneOhm = 1

// ampere is by how many ohm a diode's current is multiplied so that it is compared as a voltage: about a timing resistor.
const ampere = 1e4

// network is a wiring as Kirchhoff's law sees it: numbered nodes and what lies between them, as expressions of the values.
type network struct {
	b         *builder
	index     map[string]int
	held      []expr // voltage of a held node; noExpr: free
	output    int    // the node that the device holds, high and low
	high, low expr   // its two voltages
	discharge int    // -1: none in use
	bottom    int    // the far side of the discharge switch
	resistors []resistor
	caps      []condenser
	diodes    []diode
	draws     []draw
	charged   []int // the nodes whose voltages are states
	stateOf   []int // by node; -1: none
	timing    int   // the state of the timing node
	midway    int   // the diodes that conduct midway through the high state
	ending    int   // and as the low state ends
	compare   [2][]comparison
	contact   expr // in series with the first capacitor; noExpr: none
}

const noExpr expr = -1

type resistor struct {
	p, q int
	ohm  expr
	// special is the discharge switch: there in the low state alone, and it may have no resistance.
	special bool
}

type condenser struct {
	p, q  int
	at    [2]int // the nodes of its card, a bad contact left aside: where it leaks
	farad expr
	leak  Slot
	card  *wiring.Card
}

type diode struct {
	anode, cathode int
	drop           expr
	card           *wiring.Card
}

type draw struct {
	node   int
	ampere expr
}

// comparison ends a state of the device when node first rises above second, each times a factor.
type comparison struct {
	first, second     int  // nodes; -1: the voltage alone
	firstBy, secondBy expr // factors, of a node, or the voltage
}

func (n *network) node(name string) int {
	if i, ok := n.index[name]; ok {
		return i
	}
	i := len(n.held)
	n.index[name] = i
	n.held = append(n.held, noExpr)
	n.stateOf = append(n.stateOf, -1)
	return i
}

// isHeld says whether a source or the device holds the node.
func (n *network) isHeld(p int) bool { return n.held[p] != noExpr || p == n.output }

// isState says whether the node's voltage is a state.
func (n *network) isState(p int) bool { return n.stateOf[p] >= 0 }

// holds is the voltage of a held node in a state of the device.
func (n *network) holds(p int, low bool) expr {
	switch {
	case p != n.output:
		return n.held[p]
	case low:
		return n.low
	}
	return n.high
}

// tooMany is the fault of a card that is one too many.
func tooMany(c *wiring.Card, what string, most int) error {
	return &wiring.Error{Line: c.Line, Column: c.Column, What: what, Want: fmt.Sprintf("at most %d", most)}
}

// charge finds the charged nodes: those on which capacitors have an end whose voltage swings.
func (n *network) charge() error {
	for _, c := range n.caps {
		for _, p := range []int{c.p, c.q} {
			if !n.isHeld(p) && !n.isState(p) {
				n.stateOf[p] = len(n.charged)
				if n.charged = append(n.charged, p); len(n.charged) > mostStates {
					return tooMany(c.card, fmt.Sprintf("more than %d nodes with capacitors", mostStates), mostStates)
				}
			}
		}
	}
	if k := len(n.diodes); k > mostDiodes {
		return tooMany(n.diodes[k-1].card, fmt.Sprintf("%d diodes that have a bearing on the times", k), mostDiodes)
	}
	for {
		loose := n.loose()
		if loose < 0 {
			return nil
		}
		at := [2]int{n.charged[loose], n.node(wiring.Ground)}
		n.caps = append(n.caps, condenser{p: at[0], q: at[1], at: at, farad: n.b.constant(strayFarad)})
	}
}

// loose is a state whose node no chain of capacitors ties to a held one; -1: there is none.
func (n *network) loose() int {
	reached := make([]bool, len(n.charged))
	for range n.charged {
		for _, c := range n.caps {
			a, b := n.isHeld(c.p) || reached[n.stateOf[c.p]], n.isHeld(c.q) || reached[n.stateOf[c.q]]
			if a && !n.isHeld(c.q) {
				reached[n.stateOf[c.q]] = true
			}
			if b && !n.isHeld(c.p) {
				reached[n.stateOf[c.p]] = true
			}
		}
	}
	return slices.Index(reached, false)
}

// alone makes these the only nodes that are not eliminated, until what it returns is called.
func (n *network) alone(nodes ...int) (restore func()) {
	charged, stateOf := n.charged, n.stateOf
	n.charged, n.stateOf = nodes, slices.Repeat([]int{-1}, len(stateOf))
	for k, p := range nodes {
		n.stateOf[p] = k
	}
	return func() { n.charged, n.stateOf = charged, stateOf }
}

// side is the index of a state of the device.
func side(low bool) int {
	if low {
		return 1
	}
	return 0
}

package circuit

import (
	"reflect"
	"sync"

	"offbeat/fit"
)

// mostCompiled is how many compiled circuits are kept at a time.
const mostCompiled = 64

// cache keeps compiled circuits, which are read-only, by what they were compiled from.
type cache[K comparable] struct {
	lock sync.Mutex
	all  map[K]*Circuit
	from map[K]any
}

// get is the circuit of that key, compiled anew unless it is kept and was compiled from the same.
func (c *cache[K]) get(key K, from any, compile func() (*Circuit, error)) (*Circuit, error) {
	c.lock.Lock()
	defer c.lock.Unlock()
	if k, ok := c.all[key]; ok && reflect.DeepEqual(c.from[key], from) {
		return k, nil
	}
	k, err := compile()
	if err != nil {
		return nil, err
	}
	if c.all == nil || len(c.all) >= mostCompiled {
		c.all, c.from = map[K]*Circuit{}, map[K]any{}
	}
	c.all[key], c.from[key] = k, from
	return k, nil
}

// essence is all of a design that its circuit is compiled from, the wiring aside.
func essence(d *fit.Design) fit.Design {
	e := fit.Design{Family: d.Family, Supply: d.Supply, Minus: d.Minus, Upper: d.Upper, Lower: d.Lower}
	for _, p := range d.Parts {
		e.Parts = append(e.Parts, fit.Part{Name: p.Name, Kind: p.Kind, Nominal: p.Nominal, Position: p.Position})
	}
	e.Nodes = append(e.Nodes, d.Nodes...)
	e.Diodes = append(e.Diodes, d.Diodes...)
	for from, to := range map[*fit.Reading]**fit.Reading{d.OutputHigh: &e.OutputHigh, d.OutputLow: &e.OutputLow} {
		if from != nil {
			r := *from
			*to = &r
		}
	}
	return e
}

package circuit

import (
	"fmt"
	"strings"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// registry lists every circuit that keeps time: each is compiled when it is asked for.
var registry = makeRegistry()

// latches lists the circuits that keep no time.
var latches = []*Circuit{
	&bistable,
}

// All returns the circuits that keep time, in the order of the documentation.
func All() []*Circuit {
	var all []*Circuit
	for _, e := range registry {
		if c, err := e.of(); err == nil {
			all = append(all, c)
		}
	}
	return all
}

// Latches returns the circuits that keep no time.
func Latches() []*Circuit { return latches }

// Names lists every circuit, those that keep time first.
func Names() []string {
	var names []string
	for _, e := range registry {
		names = append(names, e.name)
	}
	for _, c := range latches {
		names = append(names, c.Name)
	}
	return names
}

// Lookup finds a circuit by name, one that keeps no time too. The error lists the names there are.
func Lookup(name string) (*Circuit, error) {
	for _, e := range registry {
		if e.name == name {
			return e.of()
		}
	}
	for _, c := range latches {
		if c.Name == name {
			return c, nil
		}
	}
	return nil, fmt.Errorf("unknown circuit %q; expected one of %s", name, strings.Join(Names(), ", "))
}

// Of finds the circuit of a design: the one that it names, compiled anew where the output's levels are known, or its wiring
// compiled about its nominal values.
func Of(d *fit.Design) (*Circuit, error) {
	if d.Wiring != nil {
		return designs.get(d.Wiring, essence(d), func() (*Circuit, error) { return wired(d.Wiring, d, nil) })
	}
	c, err := Lookup(d.Circuit)
	if err != nil || c.engine == nil || d.OutputHigh == nil && d.OutputLow == nil {
		return c, err
	}
	return designs.get(c.Wiring, essence(d), func() (*Circuit, error) {
		k, err := wired(c.Wiring, d, c.means.share)
		if err == nil {
			k.Name, k.Title, k.Groups, k.Ratio = c.Name, c.Title, c.Groups, c.Ratio
		}
		return k, err
	})
}

// designs keeps the circuits of wired designs.
var designs cache[*wiring.Wiring]

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

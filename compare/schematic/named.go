package schematic

import "offbeat/fit/wiring"

// Named lays a circuit of the list out; nil: there is none of that name.
func Named(circuit string) *Drawing {
	if circuit == "multivibrator" {
		return Of(wiring.Multivibrator())
	}
	s, ok := wiring.Lookup(circuit)
	if !ok {
		return nil
	}
	w, err := s.Wiring()
	if err != nil {
		return nil
	}
	return Of(w)
}

// Rail says whether a node feeds the device at its top or foot.
func (d *Drawing) Rail(node string) bool {
	return powered(&d.Device) && (node == wiring.Supply || node == wiring.Ground)
}

package wiring

import "slices"

const (
	Astable    Mode = iota // it oscillates, if its values let it
	Monostable             // one pulse a trigger: the high time alone is timed
	Bistable               // a latch: it keeps no time
)

func (m Mode) String() string { return [...]string{"astable", "monostable", "bistable"}[m] }

// separate finds the islands.
func (w *Wiring) separate() {
	all := sets{}
	for _, n := range w.Nodes {
		if !w.IsHeld(n) {
			all.add(n)
		}
	}
	for _, c := range w.Cards {
		for i, a := range c.Nodes {
			for _, b := range c.Nodes[:i] {
				if !w.IsHeld(a) && !w.IsHeld(b) {
					all.join(a, b)
				}
			}
		}
	}
	w.island, w.compared, w.swings = map[string]int{}, map[int]bool{}, map[int]bool{}
	numbers := map[string]int{}
	for _, n := range w.Nodes {
		if w.IsHeld(n) {
			continue
		}
		root := all.root(n)
		k, ok := numbers[root]
		if !ok {
			k = len(numbers)
			numbers[root] = k
		}
		w.island[n] = k
	}
	for _, pin := range compares[w.Device.Kind] {
		if k, ok := w.island[w.Device.Node(pin)]; ok {
			w.compared[k] = true
		}
	}
	if k, ok := w.island[w.Device.Node(PinDischarge)]; ok {
		w.swings[k] = true
	}
	for _, c := range w.Cards {
		for _, n := range c.Nodes {
			if k, ok := w.island[n]; ok && slices.ContainsFunc(c.Nodes, w.drives) {
				w.swings[k] = true
			}
		}
	}
}

// charged lists the islands on which a capacitor has an end.
func (w *Wiring) charged() map[int]bool {
	out := map[int]bool{}
	for _, c := range w.Cards {
		for _, n := range c.Nodes {
			if k, ok := w.island[n]; ok && c.Kind == Capacitor {
				out[k] = true
			}
		}
	}
	return out
}

// mode says what runs.
func (w *Wiring) mode() error {
	d, charged := &w.Device, w.charged()
	at := func(pin string) (k int, ok bool) {
		k, ok = w.island[d.Node(pin)]
		return k, ok && charged[k]
	}
	none := func(what string) error {
		if len(charged) == 0 {
			return &Error{d.Line, 0, "the wiring has no capacitor, so nothing keeps time", "one such as " + `"C1 cap ground"` + " at the node that is " + what}
		}
		return &Error{d.Line, d.Column, "no part leads from a capacitor to what is " + what, "a capacitor there, such as " + `"C1 cap ground"`}
	}
	switch d.Kind {
	case Inverter:
		if _, ok := at(PinIn); !ok {
			return none("compared, the pin in")
		}
		return nil
	case Comparator:
		if _, ok := at(PinPlus); ok {
			return nil
		}
		if _, ok := at(PinMinus); !ok {
			return none("compared, the pin plus or minus")
		}
		return nil
	}
	threshold, ends := at(PinThreshold)
	trigger, starts := at(PinTrigger)
	a, b := w.Device.Node(PinThreshold), w.Device.Node(PinTrigger)
	together := a == b
	if ka, ok := w.island[a]; ok && !together {
		kb, free := w.island[b]
		together = free && ka == kb
	}
	switch {
	case ends && starts && threshold == trigger:
		w.Runs = Astable
	case ends:
		w.Runs = Monostable
	case starts || together:
		return none("compared, the pin threshold")
	default:
		w.Runs = Bistable
	}
	return nil
}

// settle leaves out what is at the trigger of a monostable: it starts the pulse and has no say in its length.
func (w *Wiring) settle() {
	if w.Runs != Monostable {
		return
	}
	k, ok := w.island[w.Device.Node(PinTrigger)]
	for _, pin := range []string{PinThreshold, PinControl} {
		if other, tied := w.island[w.Device.Node(pin)]; tied && other == k {
			ok = false
		}
	}
	if ok {
		delete(w.compared, k)
	}
}

// sets are disjoint sets of names.
type sets map[string]string

func (s sets) add(n string) {
	if _, ok := s[n]; !ok {
		s[n] = n
	}
}

func (s sets) root(n string) string {
	s.add(n)
	for s[n] != n {
		n = s[n]
	}
	return n
}

func (s sets) join(a, b string) { s[s.root(a)] = s.root(b) }

package measure

import (
	"math"

	"offbeat/acquire"
	"offbeat/fit/change"
	"offbeat/fit/train"
)

// parts are what lies between the changes of a train; of one that runs at several paces, those and what lies between changes in each.
func (r *run) parts(cell float64) (all []train.Pace) {
	if r.found != nil {
		return r.between
	}
	t, paces := r.train.Record(), r.train.Paces()
	if r.found = new(change.Found); r.c.Kind == acquire.Transitions && r.train.Shortest() < coarse*cell {
		paces = paces[:1]
		paces[0].From, paces[0].To = math.Inf(-1), math.Inf(1)
	}
	for i, p := range paces {
		cycles := t.Part(p.From, p.To).Cycles
		if n := len(cycles); i+1 < len(paces) && n > 1 {
			cycles = cycles[:n-1] // the last may hold the change
		}
		found := change.Find(cycles, cell)
		if len(paces) > 1 && (found.Stretches == nil || found.Jumps > 0) {
			found = change.Found{Stretches: []change.Stretch{{From: p.From, To: p.To}}}
		}
		for _, s := range found.Stretches {
			all = append(all, p.Part(s.From, s.To))
		}
		if i > 0 {
			found.Sizes = append([]change.Size{{}}, found.Sizes...)
		}
		found.Sizes, found.Alike = append(r.found.Sizes, found.Sizes...), r.found.Alike || found.Alike
		r.found = &found
	}
	r.between = all
	return all
}

// coarse is how many steps of a list's times a pulse has at least where another pace of it is no rounding.
const coarse = 4

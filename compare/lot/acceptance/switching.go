package acceptance

import "fmt"

// Switching rules of ISO 2859-1:1999 9.3 (from memory; the numbers are defaults).
const (
	tightenOf  = 5 // lots looked back on
	tightenAt  = 2 // so many of them not accepted: tightened inspection
	relaxAfter = 5 // consecutive lots accepted on tightened: normal again
)

// Switching says whether the lots so far, oldest first and true where accepted on original inspection, call
// for tightened inspection. Only the plans of normal inspection are in this package, so it advises.
func Switching(accepted []bool) string {
	tightened, streak := false, 0
	var recent []bool
	for _, ok := range accepted {
		recent = append(recent, ok)
		streak++
		if !ok {
			streak = 0
		}
		if tightened {
			if streak >= relaxAfter {
				tightened, recent = false, nil
			}
			continue
		}
		if misses(recent[max(0, len(recent)-tightenOf):]) >= tightenAt {
			tightened, streak = true, 0
		}
	}
	if tightened {
		return fmt.Sprintf("%d of %d or fewer consecutive lots were not accepted: ISO 2859-1 9.3 asks for tightened inspection until %d consecutive lots are accepted", tightenAt, tightenOf, relaxAfter)
	}
	return fmt.Sprintf("normal inspection goes on: fewer than %d of the last %d lots were not accepted (ISO 2859-1 9.3)", tightenAt, tightenOf)
}

func misses(lots []bool) int {
	n := 0
	for _, ok := range lots {
		if !ok {
			n++
		}
	}
	return n
}

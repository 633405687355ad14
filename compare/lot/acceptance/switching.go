package acceptance

import (
	"fmt"
	"slices"
)

// Switching rules of ISO 2859-1:1999 9.3 (the score's increments from memory; the numbers are defaults).
const (
	tightenOf   = 5  // lots looked back on
	tightenAt   = 2  // so many of them not accepted: tightened inspection
	relaxAfter  = 5  // consecutive lots accepted on tightened: normal again
	stopAt      = 5  // lots not accepted on tightened, in all: inspection is discontinued
	reduceScore = 30 // switching score from which reduced inspection may be taken up
)

// Sequence follows lots through the switching rules, the oldest first, each on original inspection.
type Sequence struct {
	Inspection   Inspection // of the next lot
	Score        int        // switching score, on normal inspection
	Discontinued bool       // until what is wrong has been mended

	recent []bool // lots on normal inspection, true where accepted
	streak int    // accepted in a row on tightened
	missed int    // not accepted on tightened, in all
}

// Begin starts a sequence under an inspection.
func Begin(i Inspection) *Sequence { return &Sequence{Inspection: i.or()} }

// Attributes takes the next lot, judged by the plan, in whose sample so many were nonconforming.
func (s *Sequence) Attributes(p Plan, nonconforming int) {
	gain := 0
	switch tighter, ok := p.tighter(); {
	case nonconforming > p.Accept:
	case p.Accept <= 1:
		gain = 2
	case ok && nonconforming <= tighter:
		gain = 3
	}
	s.take(nonconforming <= p.Accept, gain)
}

// Variables takes the next lot, judged by variables; a score is not defined for it.
func (s *Sequence) Variables(accepted bool) { s.take(accepted, 0) }

// take applies the rules; gain is what the score rises by, 0 puts it back to zero.
func (s *Sequence) take(accepted bool, gain int) {
	switch s.Inspection {
	case Normal:
		s.recent = append(s.recent, accepted)
		if s.recent = s.recent[max(0, len(s.recent)-tightenOf):]; len(slices.DeleteFunc(slices.Clone(s.recent), func(accepted bool) bool { return accepted })) >= tightenAt {
			*s = Sequence{Inspection: Tightened}
			return
		}
		s.Score += gain
		if gain == 0 {
			s.Score = 0
		}
	case Tightened:
		if s.streak++; !accepted {
			s.streak = 0
			s.missed++
		}
		s.Discontinued = s.missed >= stopAt
		if s.streak >= relaxAfter && !s.Discontinued {
			*s = Sequence{Inspection: Normal}
		}
	case Reduced:
		if !accepted {
			*s = Sequence{Inspection: Normal}
		}
	}
}

// ReducedAllowed says whether the score allows reduced inspection for the next lot.
func (s *Sequence) ReducedAllowed() bool { return s.Inspection == Normal && s.Score >= reduceScore }

// Advice says in words how the next lot is to be inspected, and why. ISO 2859-1's score counts nonconforming boards: plans by
// variables have none.
func (s *Sequence) Advice(byVariables bool) string {
	const clause = " (ISO 2859-1 9.3)"
	switch {
	case s.Discontinued:
		return fmt.Sprintf("acceptance is discontinued: %d lots were not accepted on tightened inspection; begin again on tightened once the cause is mended%s", stopAt, clause)
	case s.Inspection == Tightened:
		return fmt.Sprintf("tightened inspection until %d consecutive lots are accepted; %d so far%s", relaxAfter, s.streak, clause)
	case s.Inspection == Reduced:
		return "reduced inspection goes on until a lot is not accepted or production is irregular" + clause
	case s.ReducedAllowed():
		return fmt.Sprintf("reduced inspection is allowed where production is steady and the responsible authority wants it: the switching score is %d%s", s.Score, clause)
	}
	score := fmt.Sprintf("switching score %d of %d for reduced", s.Score, reduceScore)
	if byVariables {
		score = "plans by variables have no switching score, so that reduced inspection is never proposed: --inspection reduced takes it up where the responsible authority wants it"
	}
	return fmt.Sprintf("normal inspection goes on: fewer than %d of the last %d lots were not accepted; %s%s", tightenAt, tightenOf, score, clause)
}

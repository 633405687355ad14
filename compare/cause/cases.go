package cause

import (
	"math"
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Finds is the probability that a look at a part, or at the board where part is empty, has its telling outcome under a case.
func (b *Board) Finds(l *Look, part string, k *Case) float64 {
	shows := 0.0
	if part == "" || slices.Contains(k.Parts, part) {
		any := true
		for _, s := range Of(k.Cause, k.Parts).Shows {
			if s.Look == l.Name && (s.Class == "" && any || s.Class != "" && s.Class == b.odds.classes[part]) {
				shows, any = s.P, s.Class == ""
			}
		}
	}
	return l.Careless + (1-l.Careless)*shows
}

// stopsUnexplained is the probability that a board with a cause that is not listed stands still where it is said to (common
// practice: of what nobody listed, some stops a board and some does not).
const stopsUnexplained = 0.1

// stands is the probability that a case without a law for it shows an output that stands, in that state where one is known.
func (k *Case) stands(state int) float64 {
	p, half := stopsUnexplained, 0.5
	if k.Silent {
		p, half = 1, silentLow
		if state > 0 {
			half = 1 - silentLow
		}
	}
	if state == 0 {
		return p
	}
	return p * half
}

// Looked is the logarithm of the likelihood of what the design's looks showed, and of the output's standing still where the
// case has no law for that.
func (b *Board) Looked(k *Case) float64 {
	sum := 0.0
	if k.Unexplained {
		for _, s := range b.Design.Stills {
			sum += math.Log(k.stands(s.State))
		}
	}
	for _, seen := range b.Design.Looks {
		p := b.Finds(LookNamed(seen.Name), seen.Part, k)
		if !seen.Found {
			p = 1 - p
		}
		sum += math.Log(p)
	}
	return sum
}

// Cases lists every case of every cause whose odds are not zero, in the registry's order.
func (b *Board) Cases() []Case {
	var all []Case
	b.loose = b.InTolerance()
	for i, r := range b.readings {
		if r.Value > 0 {
			b.loose[i] = b.orShifted(i)
		}
	}
	for i := range registry {
		c := &registry[i]
		for _, k := range c.Cases(b) {
			k.Cause = c.Name
			stated := false
			if k.Odds, stated = b.odds.of(c.Key, c.Odds, k.Parts); k.Preset > 0 && !stated {
				k.Odds = k.Preset
			}
			if k.Share > 0 {
				k.Odds *= k.Share
			}
			k.Hypothesis.Odds = k.Odds
			k.LogFactor += b.Looked(&k)
			if b.controlFixed(&k) {
				k.LogFactor += logAt(b.control, 2./3)
			}
			if k.Odds > 0 && !math.IsInf(k.LogFactor, -1) {
				all = append(all, k)
			}
		}
	}
	return all
}

// Beside are what else a board of a case may have: one more part out of its tolerance, each that the case does not name and nobody
// has read, with the odds of that.
func (b *Board) Beside(k *Case) (all []Case) {
	for i, p := range b.Parts {
		if b.Circuit.Parts[i].Idle || b.readings[i].Value > 0 || slices.Contains(k.Parts, p.Name) {
			continue
		}
		c := *k
		c.Prior, c.Alike = slices.Clone(k.Prior), ""
		c.Prior[i] = b.shift(i)
		c.Hypothesis.Odds *= b.shiftedOdds(i)
		all = append(all, c)
	}
	return all
}

// controlFixed says whether under this case nothing moves the upper threshold from its ideal ratio.
func (b *Board) controlFixed(k *Case) bool {
	if b.Design.Family != fit.Ideal || k.Unexplained && k.Cause == Unexplained {
		return false
	}
	for _, v := range k.Override {
		if v.Slot == circuit.Upper {
			return false
		}
	}
	return true
}

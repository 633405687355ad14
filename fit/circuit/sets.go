package circuit

import (
	"math"
	"strings"
)

// Sets says which parts set the high time and which the low time, where no part has a bearing on both, as in a
// multivibrator whose halves have each an RC of their own: "R1 and C1 set the high time, R2 and C2 the low time". Empty
// where some part moves both, a single pulse is all there is, or the board does not run at v.
func (c *Circuit) Sets(v *Values) string {
	rows, ok := c.sensitivities(v)
	if !ok || c.OnePulse {
		return ""
	}
	var sets [2][]string
	for i, p := range c.Parts {
		moves := [2]bool{math.Abs(rows[0][i]) > rankTolerance, math.Abs(rows[1][i]) > rankTolerance}
		if moves[0] && moves[1] {
			return ""
		}
		for k := range moves {
			if moves[k] {
				sets[k] = append(sets[k], p.Name)
			}
		}
	}
	if len(sets[0]) == 0 || len(sets[1]) == 0 {
		return ""
	}
	return strings.Join(sets[0], " and ") + " set the high time, " + strings.Join(sets[1], " and ") + " the low time"
}

package text

import (
	"bufio"
	"fmt"
	"io"

	"offbeat/acquire/quantity"
	"offbeat/compare/ledger"
)

// Odds writes what repairs say of the prior odds, as a table for a design file, and stated against found as its comments.
func Odds(w io.Writer, l *ledger.Learned, day string) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "# from %s to %s; the prior odds count as %g boards\n[odds]\n", quantity.Plural(l.Boards, "repair"), day, l.Weight)
	for _, r := range l.Odds {
		fmt.Fprintf(b, "%-24s # %.2g … %.2g; prior %.2g, found %d\n", fmt.Sprintf("%s = %.2g", r.Key, r.Value), r.Interval95[0], r.Interval95[1], r.Prior, r.Found)
	}
	if len(l.Check) > 0 {
		fmt.Fprintln(b, "\n# stated against found")
	}
	for _, r := range l.Check {
		mark := ""
		if r.Mean < r.Interval[0] || r.Mean > r.Interval[1] {
			mark = ": the stated probabilities do not hold here"
		}
		fmt.Fprintf(b, "# %s … %s: %s stated, %s on average; %d found, %s (%s … %s)%s\n", quantity.Probability(r.From), quantity.Probability(r.To), quantity.Plural(r.Stated, "cause"), quantity.Probability(r.Mean),
			r.Found, quantity.Probability(r.Share), quantity.Probability(r.Interval[0]), quantity.Probability(r.Interval[1]), mark)
	}
	for _, n := range l.Notes {
		fmt.Fprintln(b, "# "+n)
	}
	return b.Flush()
}

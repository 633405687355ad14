package comparetest_test

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"offbeat/compare/comparetest"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// floor of a probability in the logarithmic score: below it the back-solve resolves nothing.
const floor = 1e-4

// stated is what one code said of one board.
type stated struct {
	causes  []float64 // probabilities of the explanations
	truth   int       // the true one among them; -1: not listed
	covered int       // parts whose true value lies in the 95 % interval
}

// likeliest is the place of the largest probability.
func (s *stated) likeliest() int {
	top := 0
	for i, p := range s.causes {
		if p > s.causes[top] {
			top = i
		}
	}
	return top
}

// score is the logarithmic score in bits: what the truth still comes as a surprise.
func (s *stated) score() float64 {
	if s.truth < 0 {
		return -math.Log2(floor)
	}
	return -math.Log2(max(s.causes[s.truth], floor))
}

// expected is the score that calibrated probabilities expect, with its variance.
func (s *stated) expected() (mean, variance float64) {
	square := 0.0
	for _, p := range s.causes {
		x := -math.Log2(max(p, floor))
		mean += p * x
		square += p * x * x
	}
	return mean, square - mean*mean
}

// trial is one board of the study.
type trial struct {
	family, circuit, truth string
	parts                  int
	ours                   stated
	optimum                *stated // the brute-force reference's, where it was asked
	apart                  float64 // largest difference of a probability beyond three of the reference's standard errors
}

// kind is what boards are drawn of.
type kind struct {
	family string
	wired  *comparetest.Drawing
}

// tried draws a board from the documented priors, cause and all, measures it by integrating Kirchhoff's law, and asks
// the back-solve, and the reference if wanted, of a board whose times are as blurred as that needs.
func tried(of kind, seed, i uint64, ask bool) (r trial, err error) {
	blur := comparetest.Sharp
	if ask {
		blur = comparetest.Wide
	}
	b, err := comparetest.RandomBoard(rand.New(rand.NewPCG(seed, i)), of.wired, of.family, blur, true, nil)
	if err != nil {
		return r, err
	}
	got, err := reconcile.Run(&b.Design, []*fit.Measurement{&b.Measured})
	if err != nil {
		return r, err
	}
	r = trial{family: of.family, circuit: of.wired.Name, truth: b.Truth.Cause}
	if r.truth == comparetest.Shifted && len(b.Truth.Parts) == 2 {
		r.truth = "two shifted"
	}
	r.ours.truth = -1
	key := sorted(b.Truth.Cause, b.Truth.Parts)
	for k, c := range got.Causes {
		r.ours.causes = append(r.ours.causes, c.Probability)
		if sorted(c.Cause, c.Parts) == key {
			r.ours.truth = k
		}
	}
	for _, q := range got.Parts {
		if q.Unsupported {
			continue
		}
		r.parts++
		if x := b.Value(q.Name); x >= q.Interval95[0] && x <= q.Interval95[1] {
			r.ours.covered++
		}
	}
	if !ask {
		return r, nil
	}
	a, err := judge(&b.Problem, got, comparetest.Options{Seed: i})
	if err != nil || a.want.Effective < comparetest.Enough {
		return r, err
	}
	r.apart = max(a.cause, a.part)
	r.optimum = &stated{truth: -1}
	for k, c := range a.want.Causes {
		r.optimum.causes = append(r.optimum.causes, c.Probability)
		if sorted(c.Cause, c.Parts) == key {
			r.optimum.truth = k
		}
	}
	return r, nil
}

// study tries boards of each family, the first few of which the reference judges too, on all cores.
func study(t *testing.T, seed uint64, families []string, boards, asked int) []trial {
	t.Helper()
	out := make([]trial, len(families)*boards)
	errs := make([]error, len(out))
	kinds := make([][]kind, len(families))
	for k, f := range families {
		for _, w := range comparetest.Wirings {
			if slices.Contains(w.Families, f) && w.Cards == "" {
				kinds[k] = append(kinds[k], kind{f, w})
			}
		}
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for k := int(next.Add(1)) - 1; k < len(out); k = int(next.Add(1)) - 1 {
				f, i := k%len(families), k/len(families)
				out[k], errs[k] = tried(kinds[f][i%len(kinds[f])], seed+uint64(f), uint64(i), i < asked)
			}
		})
	}
	wait.Wait()
	kept := out[:0]
	for k, err := range errs {
		switch {
		case errors.As(err, new(*predict.StandsError)): // a drawn divider can ask for more than the drawn output reaches
		case err != nil:
			t.Fatalf("%s, board %d: %v", families[k%len(families)], k/len(families), err)
		default:
			kept = append(kept, out[k])
		}
	}
	if len(kept) < len(out)*9/10 {
		t.Fatalf("only %d of %d drawn designs run by their nominal values", len(kept), len(out))
	}
	return kept
}

// bins are the upper ends of the reliability table's bins.
var bins = []float64{0.001, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1}

// reliability counts, in each bin of stated probability, how many statements there were and how many were true.
type reliability struct {
	n, true, stated, variance [15]float64
}

func (r *reliability) add(s *stated) {
	for k, p := range s.causes {
		i, _ := slices.BinarySearch(bins, p)
		i = min(i, len(bins)-1)
		r.n[i]++
		r.stated[i] += p
		r.variance[i] += p * (1 - p)
		if k == s.truth {
			r.true[i]++
		}
	}
}

// write prints the table and gives the bins in which the frequency lies more than four binomial errors and a hundredth,
// the numerical error allowed to a probability, from what was stated.
func (r *reliability) write(w io.Writer) (wrong []string) {
	fmt.Fprintf(w, "%-16s %9s %11s %11s %11s %6s\n", "stated", "count", "mean stated", "frequency", "± (1 sd)", "sd off")
	low := 0.0
	for i, high := range bins {
		name := fmt.Sprintf("%g … %g %%", 100*low, 100*high)
		low = high
		if r.n[i] == 0 {
			continue
		}
		mean, share, sd := r.stated[i]/r.n[i], r.true[i]/r.n[i], math.Sqrt(r.variance[i])/r.n[i]
		fmt.Fprintf(w, "%-16s %9.0f %9.2f %% %9.2f %% %9.2f %% %6.1f\n", name, r.n[i], 100*mean, 100*share, 100*sd, (share-mean)/max(sd, 1e-9))
		if !(math.Abs(share-mean) <= 4*sd+min(0.01, mean/10)+1/r.n[i]) {
			wrong = append(wrong, fmt.Sprintf("stated %s: %.2f %% on average, true in %.2f ± %.2f %% of %.0f", name, 100*mean, 100*share, 100*sd, r.n[i]))
		}
	}
	return wrong
}

// summary adds up one code's statements over some boards.
type summary struct {
	boards, right, top, topVariance   float64 // right: the likeliest is true; top: the sum of its probabilities
	covered, parts, misses            float64 // misses: the sum over boards of the square of the intervals' misses beyond 5 %
	score, surprise, surpriseVariance float64 // bits; surprise: the score that the probabilities expect
}

func (a *summary) add(s *stated, parts int) {
	a.boards++
	k := s.likeliest()
	if k == s.truth {
		a.right++
	}
	p := s.causes[k]
	a.top += p
	a.topVariance += p * (1 - p)
	a.covered += float64(s.covered)
	a.parts += float64(parts)
	off := float64(s.covered) - 0.95*float64(parts)
	a.misses += off * off
	a.score += s.score()
	mean, variance := s.expected()
	a.surprise += mean
	a.surpriseVariance += variance
}

// coverage of the intervals, with its standard error: the parts of one board err together, so boards are the trials.
func (a *summary) coverage() (share, sd float64) {
	return a.covered / a.parts, math.Sqrt(a.misses) / a.parts
}

const summaryHead = "%-24s %7s %9s %9s %6s  %-17s %-8s %s\n"

func (a *summary) write(w io.Writer, name string) {
	cover, sd := a.coverage()
	covers := fmt.Sprintf("%6.2f ± %.2f %%", 100*cover, 100*sd)
	if a.covered == 0 { // the optimum states no interval
		covers = ""
	}
	fmt.Fprintf(w, "%-24s %7.0f %7.2f %% %7.2f %% %6.2f  %-16s  %8.4f %8.4f ± %.4f\n", name, a.boards,
		100*a.right/a.boards, 100*a.top/a.boards, 100*math.Sqrt(a.topVariance)/a.boards, covers,
		a.score/a.boards, a.surprise/a.boards, math.Sqrt(a.surpriseVariance)/a.boards)
}

// by sorts trials by a name and prints a row each.
func by(w io.Writer, all []trial, name func(*trial) string) {
	rows := map[string]*summary{}
	for i := range all {
		k := name(&all[i])
		if rows[k] == nil {
			rows[k] = &summary{}
		}
		rows[k].add(&all[i].ours, all[i].parts)
	}
	for _, k := range slices.Sorted(maps.Keys(rows)) {
		rows[k].write(w, k)
	}
}

// report prints the tables of a study and says what falls short. coverageGoal is how far the coverage may lie from 95 %.
func report(w io.Writer, all []trial, coverageGoal float64) (short []string) {
	var total summary
	var table reliability
	unlisted := 0
	for i := range all {
		total.add(&all[i].ours, all[i].parts)
		table.add(&all[i].ours)
		if all[i].ours.truth < 0 {
			unlisted++
		}
	}
	fmt.Fprintln(w, "\nRELIABILITY: each explanation of each board, by its stated probability")
	for _, wrong := range table.write(w) {
		short = append(short, wrong)
	}
	fmt.Fprintln(w, "\nSUMMARY: likeliest cause right, as stated, sd; coverage of the 95 % intervals of the parts; bits of the score, as expected")
	fmt.Fprintf(w, summaryHead, "", "boards", "right", "stated", "sd", "coverage", "score", "expected")
	total.write(w, "all")
	for _, name := range []func(*trial) string{
		func(r *trial) string { return "family " + r.family },
		func(r *trial) string { return "circuit " + r.circuit },
		func(r *trial) string { return "truth " + r.truth },
	} {
		by(w, all, name)
	}
	fmt.Fprintln(w, "(rows by truth need not agree with what is stated: only over all truths is a probability a frequency)")
	cover, _ := total.coverage()
	if !(math.Abs(cover-0.95) <= coverageGoal) {
		short = append(short, fmt.Sprintf("the 95 %% intervals of the parts cover %.2f %%, goal 95 ± %.2f %%", 100*cover, 100*coverageGoal))
	}
	if off := total.right - total.top; !(math.Abs(off) <= 4*math.Sqrt(total.topVariance)+0.002*total.boards) {
		short = append(short, fmt.Sprintf("the likeliest cause was right %.0f times, stated %.1f ± %.1f", total.right, total.top, math.Sqrt(total.topVariance)))
	}
	if off := total.score - total.surprise; !(math.Abs(off) <= 4*math.Sqrt(total.surpriseVariance)+0.005*total.boards) {
		short = append(short, fmt.Sprintf("the logarithmic score is %.4f bits, stated %.4f ± %.4f", total.score/total.boards, total.surprise/total.boards, math.Sqrt(total.surpriseVariance)/total.boards))
	}
	if unlisted > 0 {
		short = append(short, fmt.Sprintf("the true cause was not listed on %d boards", unlisted))
	}
	return append(short, againstOptimum(w, all)...)
}

// againstOptimum prints both codes' scores on the boards that the reference judged.
func againstOptimum(w io.Writer, all []trial) (short []string) {
	var ours, best summary
	onlyOurs, onlyBest, worst := 0.0, 0.0, 0.0
	var difference, square float64
	for i := range all {
		r := &all[i]
		if r.optimum == nil {
			continue
		}
		ours.add(&r.ours, r.parts)
		best.add(r.optimum, r.parts)
		worst = max(worst, r.apart)
		mine, theirs := r.ours.likeliest() == r.ours.truth, r.optimum.likeliest() == r.optimum.truth
		switch {
		case mine && !theirs:
			onlyOurs++
		case theirs && !mine:
			onlyBest++
		}
		d := r.ours.score() - r.optimum.score()
		difference += d
		square += d * d
	}
	n := ours.boards
	if n == 0 {
		return nil
	}
	fmt.Fprintln(w, "\nAGAINST THE EXACT OPTIMUM: the brute-force reference's posterior on the same boards")
	fmt.Fprintf(w, summaryHead, "", "boards", "right", "stated", "sd", "coverage", "score", "expected")
	ours.write(w, "back-solve")
	best.write(w, "optimum")
	behind, by := (onlyBest-onlyOurs)/n, math.Sqrt(onlyBest+onlyOurs)/n
	fmt.Fprintf(w, "likeliest cause right: %.2f ± %.2f %% behind the optimum (%.0f boards it alone has right, %.0f we alone)\n", 100*behind, 100*by, onlyBest, onlyOurs)
	fmt.Fprintf(w, "score: %.5f ± %.5f bits behind; largest difference of a probability beyond three standard errors %.4f\n", difference/n, math.Sqrt(square)/n, worst)
	if behind > 0.01+2*by { // one board of 75 is more than a hundredth
		short = append(short, fmt.Sprintf("the likeliest cause is right %.2f %% less often than the optimum's, goal within 1 %%", 100*behind))
	}
	if difference/n > 0.01+4*math.Sqrt(square)/n {
		short = append(short, fmt.Sprintf("the logarithmic score is %.4f bits behind the optimum's", difference/n))
	}
	return short
}

// TestCalibration is the study behind `make calibration`: what the back-solve states is as often true as stated, over
// boards of every circuit and cause drawn from the documented priors. OFFBEAT_CALIBRATION=N runs five times N boards
// of each timer family, on other seeds, N in four of them with the reference; without it a small study that tells a
// coverage of 90 % from 95 % by three standard errors.
//
// The score of a circuit's boards may lie two and a half of its standard errors from what is expected: with some twenty rows
// a table, by chance in a quarter of the tables. One printed 1.066 bits for the astable where 0.954 ± 0.042 was expected: on fresh
// seeds 1200 boards gave 1.062 where 1.057 ± 0.040 was. With the causes and odds as they are, of 2250 boards the likeliest
// cause was right in 73.7 %, stated 74.3 ± 0.8 %, the score 1.201 bits where 1.188 ± 0.031 is expected, of the astables 1.097
// where 1.144 ± 0.079 is, and the intervals covered 94.9 ± 0.3 %. The comparator's row, 1.426 for 1.223 ± 0.079, was 1.237 for
// 1.231 ± 0.069 on 450 fresh boards, and 1.677 for 1.626 ± 0.075 on 450 of the family that was furthest off.
func TestCalibration(t *testing.T) {
	families := []string{fit.Ideal, fit.CMOS, fit.Bipolar}
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_CALIBRATION"))
	if n <= 0 {
		for _, wrong := range report(io.Discard, study(t, 90, families, 20, 0), 0.05) {
			t.Error(wrong)
		}
		return
	}
	all := study(t, 7001, families, 5*n, n/4)
	var text strings.Builder
	fmt.Fprintf(&text, "%d boards of each family (%s), %d of each with the reference\n", 5*n, strings.Join(families, ", "), n/4)
	short := report(&text, all, 0.015)
	fmt.Println(text.String())
	for _, wrong := range short {
		t.Error(wrong)
	}
}

package listen

import (
	"bufio"
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"time"
)

// SimulateOptions say what a simulated board prints. Times must be given.
type SimulateOptions struct {
	Times  func(t float64) (high, low float64) // s, true times of the cycle that begins t seconds after the start
	Jitter float64                             // s, standard deviation of each edge, white; default 0
	Clock  float64                             // relative error of the board's clock: 1e-3 counts 0.1 % fast; default 0
	Tick   float64                             // s, step of the printed microsecond counter, e.g. 4e-6; default 1e-6
	Start  uint32                              // first reading of the counter, us
	Banner bool                                // print a greeting first, as the firmware example does
	Edges  int                                 // stop after so many; default: go on
	For    float64                             // s, stop after so long by the board's own time; default: go on
	Pace   bool                                // print each line when its time has come; default: as fast as it is read
	Rand   *rand.Rand                          // for the jitter; default: seeded with 1, 1
}

// Constant gives every cycle the same times.
func Constant(high, low float64) func(float64) (float64, float64) {
	return func(float64) (float64, float64) { return high, low }
}

// Banner is what a simulated board greets with, and the firmware example too.
const Banner = "offbeat edge timer, time_us,level\n"

// Simulate writes to w what a board with the firmware example prints: "time,level" lines, the time in
// microseconds on a 32-bit counter. It returns nil at the end, and what w failed with.
func Simulate(ctx context.Context, w io.Writer, o SimulateOptions) error {
	o.Tick = cmp.Or(o.Tick, 1e-6)
	if o.Rand == nil {
		o.Rand = rand.New(rand.NewPCG(1, 1))
	}
	out := bufio.NewWriter(w)
	if o.Banner {
		out.WriteString(Banner)
	}
	begin := time.Now()
	var line []byte
	var fall, next, last float64
	for n := 0; (o.Edges == 0 || n < o.Edges) && ctx.Err() == nil; n++ {
		at, level := fall, int64(0)
		if n&1 == 0 {
			high, low := o.Times(next)
			if !(high > 0 && low > 0) || math.IsInf(high+low, 0) {
				return fmt.Errorf("a cycle of %g s high and %g s low can't be simulated", high, low)
			}
			at, fall, next, level = next, next+high, next+high+low, 1
		}
		if o.For > 0 && at > o.For {
			break
		}
		last = max(last, at+o.Jitter*o.Rand.NormFloat64())
		if o.Pace {
			if err := pace(ctx, out, begin, last); err != nil {
				return err
			}
		}
		line = strconv.AppendUint(line[:0], uint64(o.counter(last)), 10)
		line = append(line, ',')
		line = strconv.AppendInt(line, level, 10)
		if _, err := out.Write(append(line, '\n')); err != nil {
			return err
		}
	}
	return out.Flush()
}

// counter is what the board's counter shows at t seconds: the nearest whole tick, in microseconds.
func (o *SimulateOptions) counter(t float64) uint32 {
	ticks := math.Round(t * (1 + o.Clock) / o.Tick)
	return o.Start + uint32(int64(math.Round(ticks*o.Tick*1e6)))
}

// pace waits until t seconds after begin, or the end of ctx; what was printed before goes out first.
func pace(ctx context.Context, out *bufio.Writer, begin time.Time, t float64) error {
	wait := time.Until(begin.Add(time.Duration(t * 1e9)))
	if wait <= 0 {
		return nil
	}
	if err := out.Flush(); err != nil {
		return err
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-ctx.Done():
	}
	return nil
}

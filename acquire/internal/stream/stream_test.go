package stream

import (
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
)

// heard is everything a stream gave.
type heard struct {
	records []Record
	rows    []Rows
	counts  Counts
	err     error
}

func hear(r io.Reader, o Options) heard {
	var h heard
	s, err := NewReader(r, o)
	if err != nil {
		return heard{err: err}
	}
	for {
		rec, err := s.Next()
		if err != nil {
			h.counts = s.Counts()
			if err != io.EOF {
				h.err = err
			}
			return h
		}
		var all, some Rows
		for err == nil {
			if err = s.Read(&some); err == nil {
				all.Time = append(all.Time, some.Time...)
				all.Value = append(all.Value, some.Value...)
			}
		}
		h.records, h.rows = append(h.records, *rec), append(h.rows, all)
		if err != io.EOF {
			h.err = err
			h.counts = s.Counts()
			return h
		}
	}
}

// show prints rows as "time:value", microseconds, x for not known.
func show(r Rows) string {
	var s []string
	for i := range r.Time {
		v := fmt.Sprintf("%g", r.Value[i])
		if math.IsNaN(r.Value[i]) {
			v = "x"
		}
		s = append(s, strconv.FormatFloat(math.Round(r.Time[i]*1e10)/1e4, 'f', -1, 64)+":"+v)
	}
	return strings.Join(s, " ")
}

// Every expectation below is worked out by hand from the lines beside it: times in microseconds from the
// first reading, x where the state is not known.
var streams = []struct {
	name   string
	opt    Options
	text   string
	form   Form
	rows   string
	counts Counts
}{
	{name: "edges", text: "100,1\n300,0\n400,1\n600,0\n", form: TimeLevel,
		rows: "0:1 200:0 300:1 500:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "edges, words and blanks and CR", text: "100 HIGH\r300 low\r\r400\tH\r\n600; L\r\n", form: TimeLevel,
		rows: "0:1 200:0 300:1 500:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "inverted", opt: Options{Invert: true}, text: "100,1\n300,0\n", form: TimeLevel,
		rows: "0:0 200:1", counts: Counts{Lines: 2, Edges: 2, Readings: 2}},
	{name: "unit in each line", text: "1.5ms,1\n1700us,0\n1.8 ms,1\n2000000ns,0\n", form: TimeLevel,
		rows: "0:1 200:0 300:1 500:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "unit in a header", text: "time_ms,level\n1,1\n3,0\n", form: TimeLevel,
		rows: "0:1 2000:0", counts: Counts{Lines: 3, Edges: 2, Readings: 2, Garbage: 1, Chatter: 1}},
	{name: "unit asked for wins over the stream's", opt: Options{Unit: "us"}, text: "time_ms,level\n1,1\n3,0\n", form: TimeLevel,
		rows: "0:1 2:0", counts: Counts{Lines: 3, Edges: 2, Readings: 2, Garbage: 1, Chatter: 1}},
	{name: "ticks", opt: Options{Unit: "2 MHz"}, text: "100,1\n500,0\n", form: TimeLevel,
		rows: "0:1 200:0", counts: Counts{Lines: 2, Edges: 2, Readings: 2}},
	{name: "decimals are seconds", text: "0.000100,1\n0.000300,0\n0.000400,1\n", form: TimeLevel,
		rows: "0:1 200:0 300:1", counts: Counts{Lines: 3, Edges: 3, Readings: 3}},
	{name: "level first", text: "1,100\n0,300\n1,400\n0,600\n", form: LevelTime,
		rows: "0:1 200:0 300:1 500:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},

	{name: "garbage at the start, a cut first line", text: "\x00\xff\x12~\n5,1\n\x07\x07\n300,0\n400,1\n600,0\n", form: TimeLevel,
		rows: "0:1 98.3333:x 196.6667:1 295:0 395:1 595:0", counts: Counts{Lines: 6, Edges: 4, Readings: 4, Garbage: 2}},
	{name: "line cut by the end", text: "100,1\n300,0\n400,1\n60", form: TimeLevel,
		rows: "0:1 200:0 300:1", counts: Counts{Lines: 4, Edges: 3, Readings: 3, Garbage: 1, Cut: 1}},
	{name: "last line whole but not ended", text: "100,1\n300,0\n400,1", form: TimeLevel,
		rows: "0:1 200:0 300:1", counts: Counts{Lines: 3, Edges: 3, Readings: 3}},
	{name: "line lost", text: "100,1\n300,0\n400,1\n700,1\n900,0\n", form: TimeLevel,
		rows: "0:1 200:0 300:1 400:x 500:0 600:1 800:0", counts: Counts{Lines: 5, Edges: 5, Readings: 5, Lost: 1}},
	{name: "line garbled", text: "100,1\n300,0\n4#0,1\n600,0\n700,1\n", form: TimeLevel,
		rows: "0:1 200:0 300:x 400:1 500:0 600:1", counts: Counts{Lines: 5, Edges: 4, Readings: 4, Garbage: 1, Lost: 1}},
	{name: "line printed twice", text: "100,1\n300,0\n300,0\n400,1\n", form: TimeLevel,
		rows: "0:1 200:0 300:1", counts: Counts{Lines: 4, Edges: 3, Readings: 4, Doubled: 1}},
	{name: "board restarts", text: "7000,1\n7200,0\n7300,1\n50,0\n150,1\n350,0\n", form: TimeLevel,
		// The axis goes on one step (200, the longest of late, fades by 1 % a step: 198) after the last edge.
		rows: "0:1 200:0 300:1 399:x 498:0 598:1 798:0", counts: Counts{Lines: 6, Edges: 6, Readings: 6, Resets: 1}},
	{name: "counter wraps", text: "4294966996,1\n4294967196,0\n0,1\n200,0\n", form: TimeLevel,
		rows: "0:1 200:0 300:1 500:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4, Wraps: 1}},
	{name: "counter wraps at the second line", text: "10:00:01.250 -> 4294967290,1\n10:00:01.251 -> 14,0\n", form: TimeLevel,
		rows: "0:1 20:0", counts: Counts{Lines: 2, Edges: 2, Readings: 2, Wraps: 1}},
	{name: "counter printed as signed", text: "2147483500,1\n2147483600,0\n-2147483596,1\n-2147483496,0\n", form: TimeLevel,
		rows: "0:1 100:0 200:1 300:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "restart high up is no wrap", text: "3000000000,1\n3000000200,0\n3000000300,1\n50,0\n150,1\n", form: TimeLevel,
		rows: "0:1 200:0 300:1 399:x 498:0 598:1", counts: Counts{Lines: 5, Edges: 5, Readings: 5, Resets: 1}},
	{name: "one line lies backwards", text: "1000,1\n1200,0\n13,1\n1500,0\n1600,1\n", form: TimeLevel,
		rows: "0:1 200:0 300:x 400:1 500:0 600:1", counts: Counts{Lines: 5, Edges: 4, Readings: 5, Backward: 1}},
	{name: "one line lies forwards", text: "1000,1\n1200,0\n91300,1\n1500,0\n1600,1\n", form: TimeLevel,
		rows: "0:1 200:0 300:x 400:1 500:0 600:1", counts: Counts{Lines: 5, Edges: 4, Readings: 5, Backward: 1}},
	{name: "two lines run together", text: "1000,1\n1200,0\n1300,11500,0\n1600,1\n", form: TimeLevel,
		rows: "0:1 200:0 333.3333:x 466.6667:0 600:1", counts: Counts{Lines: 4, Edges: 3, Readings: 3, Garbage: 1}},
	{name: "port gone and back, counter ran on", text: "1000,1\n1200,0\n13<cut>\n# offbeat reconnected 2.0\n0,1\n2001500,0\n2001600,1\n2001800,0\n", form: TimeLevel,
		rows: "0:1 200:0 1000350:x 2000500:0 2000600:1 2000800:0", counts: Counts{Lines: 7, Edges: 5, Readings: 6, Garbage: 1, Cut: 1, Reconnects: 1, Unsure: 1, Own: 1}},
	{name: "port gone and back, board restarted", text: "9000000,1\n9000200,0\n# offbeat reconnected 2.0\n> go\n500,1\n600,0\n", form: TimeLevel,
		rows: "0:1 200:0 1000200:x 2000200:1 2000300:0", counts: Counts{Lines: 5, Edges: 4, Readings: 4, Garbage: 1, Chatter: 1, Reconnects: 1, Resets: 1, Own: 1}},

	{name: "console", text: "> go\nrate 500000 Hz\n@37 00 -> 01 D0\n@137 01 -> 00 D0\n@150 00 -> 10 D1\n@187 10 -> 11 D0\n", form: TimeLevel,
		rows: "0:1 200:0 300:1", counts: Counts{Lines: 6, Edges: 3, Readings: 4, Garbage: 2, Chatter: 2, Other: 1}},

	{name: "levels and durations", text: "H 200\nL 100\nH 210\nL 110\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "levels and durations in other clothes", text: "High: 0.2 ms\nlow = 100us\nMARK\t210 us\nspace,110us\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "levels as digits and durations", text: "1,200\n0,100\n1,210\n0,110\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "two named durations a line", text: "ready\nt_on 200 t_off 100 us\nt_on 210 t_off 110 us\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 5, Edges: 4, Readings: 4, Garbage: 1, Chatter: 1}},
	{name: "an object a line, with its period", text: `{"high_us":200,"low_us":100,"period_us":300}` + "\n" + `{"high_us":210,"low_us":110,"period_us":320}` + "\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "named times and levels", text: "t=100 level=1\ntime: 300 us? no\nt=300 level=0\nt=400 level=1\n", form: TimeLevel,
		rows: "0:1 200:0 300:1", counts: Counts{Lines: 4, Edges: 3, Readings: 3, Garbage: 1, Chatter: 1}},
	{name: "chatter that reads as named durations", text: "H 200\nL 100\nrelay on 5 times, off 3 times\nH 210\nL 110\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 6, Edges: 4, Readings: 4, Garbage: 2}},
	{name: "one state named twice", text: "H 200\nL 100\nhigh 200 us, high 210 us\nH 210\nL 110\n", form: LevelDuration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 5, Edges: 4, Readings: 4, Garbage: 1, Chatter: 1}},
	{name: "duration lost", text: "H 200\nL 90\nH 210\nH 220\nL 110\n", form: LevelDuration,
		// The lost low is taken as long as the last one heard, 90, for the axis only.
		rows: "0:1 200:0 290:1 500:0 530:x 560:0 590:1 810:0 920:1", counts: Counts{Lines: 5, Edges: 5, Readings: 5, Lost: 1}},
	{name: "waited in vain", text: "H 200\nL 90\nH 0\nL 90\nH 200\nL 90\n", form: LevelDuration,
		rows: "0:1 200:0 290:1 335:x 380:0 470:1 670:0 760:1", counts: Counts{Lines: 6, Edges: 6, Readings: 6, Lost: 1}},
	{name: "durations in turn", text: "200\n100\n210\n110\n", form: Duration,
		rows: "0:1 200:0 300:1 510:0 620:1", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "durations in turn, signed", text: "-100\n+200\n-110\n+210\n", form: Duration,
		rows: "0:0 100:1 300:0 410:1 620:0", counts: Counts{Lines: 4, Edges: 4, Readings: 4}},
	{name: "durations in turn, one lost", text: "200\n100\n200\n100\n200\n200\n100\n", form: Duration,
		rows:   "0:1 200:0 300:1 500:0 600:1 800:0 833.3333:x 866.6667:0 900:1 1100:0 1200:1",
		counts: Counts{Lines: 7, Edges: 7, Readings: 7, Lost: 1}},

	{name: "readings", text: "0,3\n10,2\n20,510\n30,1020\n40,1021\n50,3\n60,2\n", form: TimeReading,
		rows: "0:3 10:2 20:510 30:1020 40:1021 50:3 60:2", counts: Counts{Lines: 7, Edges: 2, Readings: 7}},
	{name: "readings in volts", text: "0,3mV\n10,4 mV\n20,3.3V\n30,3.2V\n40,2mV\n", form: TimeReading,
		rows: "0:0.003 10:0.004 20:3.3 30:3.2 40:0.002", counts: Counts{Lines: 5, Edges: 2, Readings: 5}},
	{name: "looks", text: "0,0\n10,0\n20,0\n30,1\n40,1\n50,1\n60,0\n70,0\n80,0\n90,1\n100,1\n110,1\n", form: TimeLook,
		rows:   "0:0 10:0 20:0 30:1 40:1 50:1 60:0 70:0 80:0 90:1 100:1 110:1",
		counts: Counts{Lines: 12, Edges: 3, Readings: 12}},
}

func TestStreams(t *testing.T) {
	for _, c := range streams {
		t.Run(c.name, func(t *testing.T) {
			h := hear(strings.NewReader(c.text), c.opt)
			if h.err != nil || len(h.records) != 1 {
				t.Fatalf("%d records, error %v", len(h.records), h.err)
			}
			if got := h.records[0].Form; got != c.form {
				t.Errorf("form %v, want %v", got, c.form)
			}
			if got := show(h.rows[0]); got != c.rows {
				t.Errorf("rows\n got %s\nwant %s", got, c.rows)
			}
			if h.counts != c.counts {
				t.Errorf("counts\n got %+v\nwant %+v", h.counts, c.counts)
			}
			checkCounts(t, h)
		})
	}
}

// checkCounts: each line is counted once, and rows and times hang together.
func checkCounts(t *testing.T, h heard) {
	t.Helper()
	if h.counts.Lines != h.counts.Readings+h.counts.Garbage {
		t.Errorf("lines do not add up: %+v", h.counts)
	}
	for i, r := range h.rows {
		if h.records[i].Rows != int64(len(r.Time)) {
			t.Errorf("record %d says %d rows, gave %d", i+1, h.records[i].Rows, len(r.Time))
		}
		for k := 1; k < len(r.Time); k++ {
			if !(r.Time[k] >= r.Time[k-1]) {
				t.Fatalf("record %d: time goes from %g to %g", i+1, r.Time[k-1], r.Time[k])
			}
		}
	}
}

func TestSameHoweverItIsCut(t *testing.T) {
	for _, c := range streams {
		whole := hear(strings.NewReader(c.text), c.opt)
		bytewise := hear(iotest.OneByteReader(strings.NewReader(c.text)), c.opt)
		if !same(whole, bytewise) {
			t.Errorf("%s: read at once\n%+v\nread bytewise\n%+v", c.name, whole, bytewise)
		}
	}
}

// same compares two hearings, NaN equal to NaN.
func same(a, b heard) bool {
	if !reflect.DeepEqual(a.records, b.records) || a.counts != b.counts || !errors.Is(a.err, b.err) {
		return false
	}
	for i := range a.rows {
		if show(a.rows[i]) != show(b.rows[i]) {
			return false
		}
	}
	return len(a.rows) == len(b.rows)
}

func TestNoRecord(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       error
	}{
		{"nothing", "", ErrEmpty},
		{"blank lines", "\n\r\n\n", ErrEmpty},
		{"chatter", "hello\nworld\n", ErrNone},
		{"levels without times", "0\n1\n0\n1\n", ErrLevelsOnly},
		{"ticks", "ticks,level\n100,1\n300,0\n400,1\n600,0\n700,1\n900,0\n", ErrTicks},
		{"times without levels", "100\n300\n400\n600\n700\n900\n", ErrTimesOnly},
	} {
		if h := hear(strings.NewReader(c.text), Options{}); !errors.Is(h.err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, h.err, c.want)
		}
	}
}

// TestRated: lines that tell a frequency or a period, and a duty factor or the high time. A train of 3.96364 ms and 3.30909 ms has
// 137.5 Hz and 54.5 % (1/137.5 s = 7.27273 ms); what its digits reach is a unit of their last place.
func TestRated(t *testing.T) {
	for line, digit := range map[string][2]float64{ // of the period, of the high time
		"f=137.5 Hz duty=54.5 %":                                      {5e-6, 7e-6},
		"freq: 0.1375 kHz, duty cycle: 54.50%":                        {5e-6, 0.7e-6},
		`{"freq_hz":137.50,"duty":0.5450}`:                            {0.5e-6, 0.7e-6},
		`{"freq_hz":"137.50 Hz","duty":"54.50 %"}`:                    {0.5e-6, 0.7e-6},
		"period=7.2727ms duty=54.50 percent":                          {0.1e-6, 0.7e-6},
		"period 7.2727 ms duty 0.5450":                                {0.1e-6, 0.7e-6},
		"cycle 12 period 7.2727 duty 54.50":                           {0.1e-6, 0.7e-6},
		"duty cycle 54.5, period 7272.7 µs":                           {0.1e-6, 7e-6},
		"[10:00:01.250] F 137.50 Hz high 3.9636 ms":                   {0.5e-6, 0.1e-6},
		"freq 137.500 duty_factor 0.54500 temp 23.5":                  {0.05e-6, 0.07e-6},
		"n,Frequency [Hz],Duty cycle (%)\n137,137.50,54.50":           {0.5e-6, 0.7e-6},
		"t;period_ms;duty\n0,5;7,2727;0,5450":                         {0.1e-6, 0.7e-6},
		"time_s\tfreq (kHz)\t+width (us)\t\n12.25\t0.13750\t3963.6\t": {0.5e-6, 0.1e-6},
		"n;Freq.;Duty\n;[kHz];[%]\n1;0.13750;54.50":                   {0.5e-6, 0.7e-6},
		"Frequency,Duty\n\"137.50 Hz\",\"54.50 %\"":                   {0.5e-6, 0.7e-6},
	} {
		row := line[strings.LastIndexByte(line, '\n')+1:]
		head := line[:len(line)-len(row)]
		r, err := NewReader(strings.NewReader(head+strings.Repeat(row+"\n", 9)), Options{Unit: "ms"})
		if err != nil {
			t.Fatal(err)
		}
		rec, err := r.Next()
		if err != nil {
			t.Errorf("%q: %v", line, err)
			continue
		}
		var rows Rows
		if err := r.Read(&rows); err != nil || rows.Len() < 10 {
			t.Errorf("%q: %d rows, %v", line, rows.Len(), err)
			continue
		}
		for i := 2; i+1 < 10; i++ {
			want := 3.30909e-3
			if rows.Value[i] == 1 {
				want = 3.96364e-3
			}
			if got := rows.Time[i+1] - rows.Time[i]; math.Abs(got-want) > digit[0]+digit[1] {
				t.Errorf("%q: state %g for %g s, expected %g", line, rows.Value[i], got, want)
			}
		}
		u := func(v float64) float64 { return math.Sqrt(12 * v) } // of the digit that leaves such a variance, rectangular
		if d := rec.Digits; math.Abs(u(d[0]+2*d[1]+d[2])/digit[0]-1) > 0.1 || u(d[0]) < digit[1]*0.9 || u(d[0]) > 1.1*math.Hypot(digit[1], 0.545*digit[0]) {
			t.Errorf("%q: digits leave %g s of the period and %g s of the high time, expected %g and %g", line, u(d[0]+2*d[1]+d[2]), u(d[0]), digit[0], digit[1])
		}
	}
	// Where the digits scatter, rounding is what scatters too: none of it is common to all.
	if h := hear(strings.NewReader(strings.Repeat("f=137.5 Hz duty=54.5 %\nf=137.7 Hz duty=54.5 %\nf=137.3 Hz duty=54.5 %\n", 3)), Options{}); len(h.records) != 1 || !(h.records[0].Digits[0] > 0) ||
		math.Abs(h.records[0].Digits[0]+h.records[0].Digits[1]) > 1e-9*h.records[0].Digits[0] {
		t.Errorf("digits that scatter: %+v", h.records)
	}
	for _, line := range []string{"f=137.5 Hz duty=120 %", "f=0 Hz duty=50 %", "f=1 Hz duty=50 %", "cycle 7.27 duty 54.5 %", "f=137.5 Hz", "freq 137.5 Hz high 3.96", "freq 137.5 Hz high 8.5 ms"} {
		r, _ := NewReader(strings.NewReader(strings.Repeat(line+"\n", 9)), Options{})
		if _, err := r.Next(); !errors.Is(err, ErrNone) {
			t.Errorf("%q: %v", line, err)
		}
	}
}

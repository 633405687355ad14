package stream

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/timeunit"
)

const (
	// misfits in a row end a record: the board has begun to print in another form.
	misfits = 8
	// maxSkip is how far a line that counts itself may be ahead of the line before it.
	maxSkip = 64
	// maxChannels bounds how many names of other channels are kept for a note.
	maxChannels = 64
)

// parser makes rows of lines.
type parser struct {
	opt    Options
	asked  float64 // s per count by Options; 0: not asked
	stated float64 // s per count by the stream itself; 0: not said
	saying string  // what it said
	apart  float64 // s between samples, as the stream says; 0: not said
	ticks  bool    // a line of names calls the times ticks
	rating rating
	rest   bool // lines say a period and the high time in it
	titles titles

	channel  string
	others   []string // other channels met
	mayBeCut bool     // the port has just come back: the next line may lack its beginning
	before   reading  // the line before
	index    int64    // of the last line that counts itself
	garbled  bool     // the last lines were neither readings nor text

	window  window
	marks   []Mark  // set before the record was settled
	rec     *Record // nil: not settled
	ended   bool    // rec has ended; end closes it, begin starts the next
	rows    Rows
	run     run
	counts  Counts // without what run counts
	records int
	skipped int64 // by the records before
}

// run is what is kept of the lines of one record.
type run struct {
	clock    clock
	edges    edges
	samples  samples
	pulses   durations
	granule  granule
	folder   folder
	last     number    // time of the reading before
	named    bool      // the lines write their unit
	labels   bool      // and name their values
	misfit   []reading // that came in a row
	recent   []reading // last ones that fitted, at most misfits
	readings int64
}

func newParser(o Options) (*parser, error) {
	p := &parser{opt: o, channel: o.Channel}
	if o.Unit != "" {
		var err error
		if p.asked, err = ParseUnit(o.Unit); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// line takes the next line. It must not be called between the end of a record and the begin of the next.
func (p *parser) line(l Line) {
	if key, value, ok := own(l.Text); ok {
		p.counts.Own++
		p.own(key, value)
		return
	}
	p.counts.Lines++
	text, titled := p.titles.row(l.Text)
	r, ok := parseLine(text)
	if (ok || l.Long) && !titled {
		p.reading(l, r, ok)
		return
	}
	text = latin(text)
	var parts [][]byte
	if p.rating.grain == 0 { // numbers without a unit are none of it
		parts = named(text)
		p.rest = p.rest || p.rec == nil && len(parts) == 2 && leavesRest(text)
	}
	if parts == nil && (p.rating.grain > 0 || p.rec == nil && len(p.window.readings) == 0) {
		parts = p.rating.lines(text, cmp.Or(p.asked, p.stated))
	}
	p.counts.Lines += int64(max(len(parts)-1, 0)) // of two readings, it counts as two
	for i, part := range parts {
		r, ok := parseLine(part)
		r.named = true
		p.reading(Line{Text: part, Cut: l.Cut && i == len(parts)-1}, r, ok)
	}
	if parts == nil {
		p.reading(l, r, false)
	}
}

// reading takes what a line says; ok is false where it is no reading.
func (p *parser) reading(l Line, r reading, ok bool) {
	if ok && r.index > 0 { // the first alone may be two lines run together
		ok = p.index > 0 && r.index > p.index && r.index <= p.index+maxSkip
		p.index = r.index
	}
	mayBeCut := p.mayBeCut
	p.mayBeCut = false
	defer func() { p.before = r }()
	switch {
	case l.Long || !ok:
		p.garbage(l)
	case r.name != "" && !p.hears(r.name):
		p.counts.Readings++
		p.counts.Other++
	case mayBeCut:
		p.counts.Readings++
		p.counts.Unsure++
	case again(r, p.before):
		p.counts.Readings++
		p.counts.Doubled++
	case p.rec == nil:
		r.after, p.garbled = p.garbled, false
		p.window.readings = append(p.window.readings, r)
		p.window.cut = l.Cut
	default:
		r.after, p.garbled = p.garbled, false
		p.take(r, l.Cut)
	}
}

// hears reports whether name is the chosen channel; the first one named is, unless one was asked for.
func (p *parser) hears(name string) bool {
	p.channel = cmp.Or(p.channel, name)
	if name != p.channel && len(p.others) < maxChannels && !slices.Contains(p.others, name) {
		p.others = append(p.others, name)
	}
	return name == p.channel
}

func (p *parser) garbage(l Line) {
	p.counts.Garbage++
	switch {
	case l.Cut || l.Long || bytes.HasSuffix(l.Text, []byte(CutMark[:len(CutMark)-1])):
		p.counts.Cut++
		p.garbled = true
	case !readable(l.Text):
		p.garbled = true
	case l.Text[0] == '!':
		p.garbled = true
		p.counts.Lost++
		p.counts.Chatter++
	default:
		p.counts.Chatter++
		if t, ok := titlesOf(l.Text); ok {
			p.titles = t
		} else if p.rec == nil {
			p.titles.units(l.Text)
		}
		if p.stated == 0 && p.rec == nil {
			if u, ok := statedUnit(l.Text); ok {
				p.stated, p.saying = u, string(l.Text)
			} else if u, ok := samplesApart(l.Text); ok {
				p.apart, p.saying = u, string(l.Text)
			}
			p.ticks = p.ticks || namesTicks(l.Text)
		}
	}
}

// own obeys a line of ours.
func (p *parser) own(key, value string) {
	switch key {
	case "unit":
		if u, err := ParseUnit(value); err == nil && p.rec == nil {
			p.stated, p.saying = u, "unit "+value
		}
	case "reconnected":
		p.counts.Reconnects++
		p.mayBeCut = true
		p.run.clock.leave(awaySeconds(value))
		p.run.pulses.pause(awaySeconds(value))
		p.counts.Garbage += int64(len(p.window.readings))
		p.window = window{}
	case "mark":
		p.mark(Mark{Text: value})
	}
}

// mark sets a user's mark at the last reading.
func (p *parser) mark(m Mark) {
	switch {
	case p.rec == nil:
		if len(p.marks) < maxMarks {
			p.marks = append(p.marks, m)
		}
		return
	case p.rec.Form.pulses():
		m.Time = p.run.pulses.at
	default:
		m.Time = p.run.clock.latest()
	}
	if len(p.rec.Marks) < maxMarks {
		p.rec.Marks = append(p.rec.Marks, m)
	}
}

// begin starts a record if the readings so far settle a form; end says that no more will come.
func (p *parser) begin(end bool) error {
	n, wait := p.window.fold()
	if wait && !end {
		return nil
	}
	w := p.window
	f := folder{n: n}
	var doubled int64
	if n > 1 {
		w.readings = nil
		for _, r := range p.window.readings {
			if f.pass(r) {
				w.readings = append(w.readings, r)
			} else {
				doubled++
			}
		}
	}
	form := w.settle(end || wait)
	if form == Unknown || !end && len(p.window.readings) < windowFull && p.asked == 0 && p.stated == 0 && w.doubtful(form) {
		return nil
	}
	p.counts.Readings += doubled
	p.counts.Doubled += doubled
	if form == Duration {
		if w.rising() {
			return ErrTimesOnly
		}
		if w.bare() {
			return ErrLevelsOnly
		}
	}
	if p.ticks && p.asked == 0 && p.stated == 0 && p.apart == 0 && p.rating.grain == 0 && !w.named(form) {
		return ErrTicks
	}
	p.window = window{}
	p.records++
	p.rec, p.ended = &Record{Number: p.records, Form: form, Channel: p.channel, Marks: p.marks}, false
	p.marks = nil
	p.run.named, p.run.labels = w.named(form), w.labels()
	p.rec.Counts = form == TimeReading && w.counts()
	p.run.folder = folder{n: n}
	p.settleUnit(w)
	p.run.edges = edges{out: &p.rows, state: -1}
	p.run.samples = samples{out: &p.rows}
	p.run.pulses = durations{out: &p.rows, unit: p.rec.Unit, state: -1}
	p.run.clock = clock{unit: p.rec.Unit, out: p.run.edges.add}
	if form.Sampled() {
		p.run.clock.out = p.run.samples.add
	}
	for i, r := range w.readings {
		p.take(r, w.cut && i == len(w.readings)-1)
	}
	return nil
}

// settleUnit settles the unit of the printed numbers, and says on what evidence.
func (p *parser) settleUnit(w window) {
	rec := p.rec
	places, power, first, usual := w.scale(rec.Form)
	var how string
	switch {
	case p.rating.grain > 0:
		rec.Unit, how = p.rating.grain, fmt.Sprintf("a fourth of what the digits of %q reach", p.rating.line)
	case p.run.named:
		rec.Unit, how = 1, "each line writes its unit"
	case p.asked > 0:
		rec.Unit, how = p.asked, "as asked"
	case p.stated > 0:
		rec.Unit, how = p.stated, fmt.Sprintf("the stream says %q", p.saying)
	case p.apart > 0 && places == 0 && (rec.Form.pulses() || p.ticks):
		rec.Unit, how = p.apart, fmt.Sprintf("samples are counted, the stream says %q", p.saying)
	default:
		g := timeunit.Of(timeunit.Written{Whole: places == 0, Power: power}, first, usual)
		rec.Unit, how = 1/math.Pow10(-g.Power), "a guess, the stream does not say"
		rec.Notes = append(rec.Notes, g.Note("the printed numbers"))
		rec.Guess = g.Short()
	}
	rec.Bare = p.rating.grain == 0 && !p.run.named
	rec.Resolution = rec.Unit / math.Pow10(places)
	rec.Step = rec.Resolution
	switch {
	case p.rating.grain > 0, rec.Unit == p.apart:
	case p.rest:
		rec.Rounded = acquire.OfPeriods
	case rec.Form.pulses():
		rec.Rounded = acquire.OfTimes
	}
	rec.Evidence = append(rec.Evidence,
		fmt.Sprintf("lines of the form %q", rec.Form),
		fmt.Sprintf("one printed count is %g s: %s", rec.Unit, how))
	if r := &p.rating; r.grain > 0 {
		rec.Notes = append(rec.Notes, fmt.Sprintf("each line's frequency or period and duty factor is taken as one cycle; its digits tell the period to %.2g s and what of it is high to %.2g s", r.period.reach/2, r.high.reach/2))
		if r.guess != nil {
			rec.Notes = append(rec.Notes, r.guess.Note("the periods"))
			rec.Guess = r.guess.Short()
		}
	}
	if rec.Form == Duration && !w.signed() {
		rec.Notes = append(rec.Notes, "the lines do not say which level lasted: the first is taken as high")
	}
}

// take takes a reading into the record, if it fits.
func (p *parser) take(r reading, cut bool) {
	form := p.rec.Form
	r.num = form.number(r)
	switch {
	case cut && !(form.wholeWhenCut() && form.fits(r)):
		p.counts.Garbage++
		p.counts.Cut++
	case !form.fits(r) || r.num.unit != p.run.named || r.named != p.run.labels:
		p.counts.Garbage++
		if p.run.misfit = append(p.run.misfit, r); len(p.run.misfit) == misfits {
			p.counts.Garbage -= misfits
			p.stop(p.run.misfit)
		}
	default:
		if form.pulses() && !p.run.folder.pass(r) {
			p.counts.Readings++
			p.counts.Doubled++
			return
		}
		p.run.misfit = p.run.misfit[:0]
		p.run.readings++
		p.rec.Volts = p.rec.Volts || r.volts
		p.fit(r)
	}
}

// fit takes a reading of the settled form.
func (p *parser) fit(r reading) {
	n := r.num
	if p.rec.Form.pulses() {
		p.run.granule.add(n.digits)
		p.run.pulses.add(n, r.state)
		return
	}
	if n.places == p.run.last.places {
		p.run.granule.add(n.digits - p.run.last.digits)
	}
	p.run.last = n
	p.run.clock.push(r)
	if p.rec.Form == TimeLevel {
		p.watch(r)
	}
}

// watch ends a record of edges in which one level is said again and again: those are looks at the pin.
func (p *parser) watch(r reading) {
	u := &p.run
	if len(u.recent) == misfits {
		copy(u.recent, u.recent[1:])
		u.recent = u.recent[:misfits-1]
	}
	u.recent = append(u.recent, r)
	if u.edges.run >= misfits {
		u.edges.lost -= int64(u.edges.run)
		u.readings -= int64(len(u.recent))
		p.stop(u.recent)
	}
}

// stop ends the record; the readings are the next one's first.
func (p *parser) stop(next []reading) {
	p.window.readings = append(p.window.readings, next...)
	p.flush()
}

// flush hands out what is held back and ends the record.
func (p *parser) flush() {
	p.run.clock.flush()
	p.ended = true
}

// end closes the record that has ended.
func (p *parser) end() {
	rec := p.rec
	p.settleStep()
	c := p.counted()
	rec.Skipped = c.Garbage - c.Chatter + c.Backward + c.Doubled + c.Other + c.Unsure - p.skipped
	p.skipped += rec.Skipped
	rec.Notes = append(rec.Notes, p.notes(c)...)
	p.counts, p.run, p.rec = c, run{}, nil
}

// settleStep gives the record the step of its times, as far as it shows.
func (p *parser) settleStep() {
	p.rating.settle(p.rec)
	if p.rec.Form.Sampled() {
		p.rec.Step = p.run.samples.interval()
		return
	}
	p.rec.Step = p.rec.Resolution * float64(p.run.granule.counts())
}

// counted adds what the current run counts to what was counted before.
func (p *parser) counted() Counts {
	c, u := p.counts, &p.run
	c.Readings += u.readings
	c.Resets += u.clock.resets
	c.Wraps += u.clock.wraps
	c.Backward += u.clock.backward
	c.Doubled += u.edges.doubled
	c.Lost += u.edges.lost + u.pulses.lost
	c.Edges += u.samples.edges
	if p.rec != nil && !p.rec.Form.Sampled() {
		c.Edges += u.readings - u.clock.backward - u.edges.doubled
	}
	return c
}

// level copies the values of the rows to v, inverted where that was asked for.
func (p *parser) level(v []float64) []float64 {
	v = append(v, p.rows.Value...)
	if !p.opt.Invert {
		return v
	}
	top := 1.0
	if p.rec.Form == TimeReading {
		top = 0
	}
	for i := range v {
		v[i] = top - v[i]
	}
	return v
}

// none says why a stream that has ended with err gave no record, or passes err on.
func (p *parser) none(err error) error {
	switch {
	case err != io.EOF || p.records > 0:
		return err
	case p.counts.Lines == 0:
		return ErrEmpty
	}
	return ErrNone
}

// shortSpan is the span of a 16-bit counter, which a board should not print.
const shortSpan = 1 << 16

// notes says what a user should know about what was met, one sentence for each kind.
func (p *parser) notes(c Counts) []string {
	var notes []string
	for _, k := range []struct {
		n         int64
		one, many string
	}{
		{c.Garbage - c.Chatter, "1 line was no reading and was left out", "%d lines were no reading and were left out"},
		{c.Lost, "1 edge was missed: the intervals across it were left out", "%d edges were missed: the intervals across them were left out"},
		{c.Backward, "1 line lay about the time and was left out", "%d lines lay about the time and were left out"},
		{c.Unsure, "the first reading after a reconnect was left out: it may lack its beginning", "the first readings after %d reconnects were left out: they may lack their beginning"},
		{c.Doubled, "1 line was the line before it once more", "%d lines were the line before them once more"},
		{c.Resets, "the time began anew once: no pulse is taken across it, and the pause is not known", "the time began anew %d times: no pulse is taken across them, and the pauses are not known"},
		{c.Wraps, "the 32-bit counter wrapped once, which is undone", "the 32-bit counter wrapped %d times, which is undone"},
		{c.Reconnects, "the port was gone and came back once: no pulse is taken across it", "the port was gone and came back %d times: no pulse is taken across them"},
	} {
		switch {
		case k.n == 1:
			notes = append(notes, k.one)
		case k.n > 1:
			notes = append(notes, fmt.Sprintf(k.many, k.n))
		}
	}
	if len(p.others) > 0 {
		notes = append(notes, fmt.Sprintf("channel %s was taken; there are also %s", p.channel, strings.Join(p.others, ", ")))
	}
	if u := &p.run; u.edges.run > 0 && int64(u.edges.run) >= u.readings-1 {
		notes = append(notes, "every line tells the same level: the board reports edges of one side only, high and low can't be told apart")
	}
	if s := p.run.granule.counts(); s > 1 {
		notes = append(notes, fmt.Sprintf("the printed times move in steps of %d counts (%g s)", s, p.rec.Step))
	}
	if c.Resets > 2 && p.run.clock.top > shortSpan*3/4 && p.run.clock.top < shortSpan {
		notes = append(notes, "the time begins anew each time it nears 65536: the board prints a 16-bit counter; extend it to 32 bits")
	}
	return notes
}

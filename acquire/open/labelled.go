package open

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/read"
	"offbeat/acquire/recognise"
)

// plan recognises the text's shape. Lines that are no table may still name each value they hold: then the text becomes the table of
// their values. The error is that of the text as it came.
func (t *text) plan(name string, opt acquire.Options) (*recognise.Plan, error) {
	in := recognise.Input{Name: name, Head: t.head, Whole: t.whole, How: t.how}
	failed := t.foreign
	if unit := recognise.LevelUnits(t.head, t.whole); failed == nil && unit != "" {
		in.LevelUnit, in.How = unit, append(slices.Clip(in.How), "levels have their unit in their cells")
		plan, err := t.rewritten(in, opt, recognise.BareLevels)
		if !errors.Is(err, acquire.ErrShape) {
			return plan, err
		}
		in.LevelUnit, in.How = "", t.how
	}
	if failed == nil {
		if plan, err := t.respelt(in, opt, recognise.Signs); plan != nil || err != nil {
			return plan, err
		}
		plan, err := recognise.Recognise(in, opt)
		if !errors.Is(err, acquire.ErrShape) {
			return plan, err
		}
		failed = err
		if plan, err = t.respelt(in, opt, recognise.Hexadecimal); plan != nil || err != nil {
			return plan, err
		}
	}
	in.Labels = recognise.FindLabels(t.head, t.whole)
	if in.Labels == nil || stamped(t.head) { // a terminal's stamps are no times of the edges
		return nil, failed
	}
	in.How = append(in.How, "each line names the values it holds: they are taken as a table")
	plan, err := t.rewritten(in, opt, in.Labels.Row)
	if errors.Is(err, acquire.ErrShape) {
		return nil, failed
	}
	t.named = err == nil
	return plan, err
}

// respelt recognises the text with its states written as zeros and ones, where it is spelt so; nil, and no error, if it is not.
func (t *text) respelt(in recognise.Input, opt acquire.Options, spelling func(headOf []byte, whole bool) (write func(dst, line []byte) []byte, how string)) (*recognise.Plan, error) {
	write, how := spelling(t.head, t.whole)
	if write == nil {
		return nil, nil
	}
	in.How = append(slices.Clip(t.how), how)
	plan, err := t.rewritten(in, opt, write)
	if errors.Is(err, acquire.ErrShape) {
		return nil, nil
	}
	t.named = err == nil
	return plan, err
}

// stamped reports whether most lines begin with a time of day in brackets, as a terminal puts before what it heard.
func stamped(head []byte) bool {
	lines, stamps := 0, 0
	for line := range bytes.Lines(head) {
		if line = bytes.TrimSpace(line); len(line) > 0 {
			lines++
		}
		if len(line) > 0 && line[0] == '[' && recognise.StampedLine.Match(line) {
			stamps++
		}
	}
	return lines > 0 && stamps*10 > 9*lines
}

// rewritten recognises the text with its lines written anew, and takes that in its place where it is read.
func (t *text) rewritten(in recognise.Input, opt acquire.Options, line func(dst, line []byte) []byte) (*recognise.Plan, error) {
	anew := func(from io.Reader) io.Reader { return &rewriter{in: bufio.NewReader(from), write: line} }
	head := make([]byte, max(headSize, len(t.head)))
	n, err := readUpTo(anew(bytes.NewReader(t.head)), head)
	in.Head, in.Whole = head[:n], t.whole && err == io.EOF
	plan, err := recognise.Recognise(in, opt)
	if err == nil { // all of it, in place of what the recogniser saw
		all := anew(io.MultiReader(bytes.NewReader(t.head), t.r))
		n, end := readUpTo(all, head)
		t.head, t.r, t.whole, t.plain = head[:n], all, end == io.EOF, false
	}
	return plan, err
}

// rewriter writes each line of a text anew.
type rewriter struct {
	in    *bufio.Reader
	write func(dst, line []byte) []byte
	line  []byte
	out   []byte
	err   error
}

func (l *rewriter) Read(b []byte) (int, error) {
	for len(l.out) == 0 {
		if l.err != nil {
			return 0, l.err
		}
		l.line = l.line[:0]
		for more := true; more; {
			var part []byte
			part, l.err = l.in.ReadSlice('\n')
			l.line = append(l.line, part...)
			more = errors.Is(l.err, bufio.ErrBufferFull) && len(l.line) < read.MaxLine
		}
		if errors.Is(l.err, bufio.ErrBufferFull) {
			l.err = nil // what is longer than a line may be goes on as it is
		}
		text, ended := bytes.CutSuffix(l.line, []byte("\n"))
		l.out = l.write(l.out, text)
		if ended {
			l.out = append(l.out, '\n')
		}
	}
	n := copy(b, l.out)
	if l.out = l.out[n:]; len(l.out) == 0 {
		l.out = nil
	}
	return n, nil
}

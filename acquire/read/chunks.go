package read

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sync"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// chunk is a batch on its way through the workers.
type chunk struct {
	batch
	buf  []byte
	skip int // where in buf the text begins
	end  int // and ends
	rows scan.Rows
	err  error // why the input ended, if not plainly
	done chan struct{}
}

// rowStream cuts a stream of text into chunks of whole lines, parses them on all cores, and hands them out in
// order. The caller is one of the cores: where the next chunk is not ready, it parses another meanwhile. Input that
// is short is parsed by the caller alone.
type rowStream struct {
	name   string
	layout scan.Layout
	look   surveyor
	line   int64 // number of the next chunk's first line
	chunk  int   // bytes

	file *File // read where each worker is, instead of r; nil: one after the other
	from int64 // of the file, where the rows begin

	reading sync.Mutex // guards the next five
	at      int64      // of the file, where the next chunk begins
	r       io.Reader
	carry   []byte // an unfinished line
	ended   bool
	order   chan *chunk // as read

	free    chan *chunk
	quit    chan struct{}
	first   *chunk // of order; nil: not taken yet
	held    *chunk // of the caller
	late    error  // met behind the rows of the last chunk
	drained bool   // no chunk will follow those in order
	stopped bool
	alone   bool
	trip    func(text []byte) // for tests: called with each chunk's text; nil: nothing
}

// newRowStream reads the rows of a text from the plan's first on.
func newRowStream(t Text, p *recognise.Plan, tune Tuning) *rowStream {
	s := &rowStream{name: p.Name, layout: p.Layout, look: lookOf(p), line: int64(p.First) + 1, chunk: chunkSize, trip: tune.Trip, r: t.Rest, carry: bytes.Clone(t.Head[p.Offset:]), alone: t.Whole}
	if t.Whole {
		s.r = bytes.NewReader(nil)
	}
	if t.File != nil && (!t.Whole || tune.Chunk > 0) {
		s.file, s.from = t.File, t.File.Mark+int64(p.Offset)
		s.at = s.from
	}
	if tune.Chunk > 0 {
		s.r, s.carry = io.MultiReader(bytes.NewReader(s.carry), s.r), nil
		s.chunk, s.alone = tune.Chunk, false
	}
	return s
}

// start brings up a worker for each core but the caller's. There are enough chunks that none waits while the caller
// looks at one.
func (s *rowStream) start() {
	workers := runtime.GOMAXPROCS(0) - 1
	n := 2*workers + 3
	s.order, s.free, s.quit = make(chan *chunk, n), make(chan *chunk, n), make(chan struct{})
	for range n {
		s.free <- &chunk{done: make(chan struct{}, 1)}
	}
	for range workers {
		go s.work()
	}
}

// work reads and parses chunks until the input ends.
func (s *rowStream) work() {
	for {
		select {
		case c := <-s.free:
			if !s.take(c) {
				return
			}
		case <-s.quit:
			return
		}
	}
}

// take reads and parses the next chunk of the input; false when there is none.
func (s *rowStream) take(c *chunk) bool {
	s.reading.Lock()
	at := s.at
	var more bool
	if s.file != nil {
		more = s.claim()
	} else {
		more = s.fill(c)
	}
	if more {
		s.order <- c // never blocks: it has room for all chunks
	}
	s.reading.Unlock()
	if !more {
		s.free <- c
		return false
	}
	if s.file != nil {
		s.fillAt(c, at)
	}
	s.parse(c)
	c.done <- struct{}{}
	return true
}

// ready returns the next chunk in order, parsed; nil at the end.
func (s *rowStream) ready() *chunk {
	for {
		var done chan struct{}
		if s.first == nil {
			select {
			case s.first = <-s.order:
			default:
				if s.drained {
					return nil
				}
			}
		}
		if s.first != nil {
			done = s.first.done
		}
		select {
		case <-done:
			return s.pop()
		default:
		}
		free, order := s.free, s.order
		if s.drained {
			free = nil
		}
		if s.first != nil {
			order = nil
		}
		select { // whatever is nil here never comes
		case c := <-free:
			s.drained = !s.take(c)
		case s.first = <-order:
		case <-done:
			return s.pop()
		}
	}
}

func (s *rowStream) pop() *chunk {
	c := s.first
	s.first = nil
	return c
}

// claim takes the next chunk of the file; false when there is none.
func (s *rowStream) claim() bool {
	if s.ended || s.at >= s.file.Size {
		return false
	}
	s.at += int64(s.chunk)
	s.file.Reach(min(s.at, s.file.Size), s.at >= s.file.Size)
	return true
}

// finish lets no worker claim another chunk.
func (s *rowStream) finish() {
	s.reading.Lock()
	s.ended = true
	s.reading.Unlock()
}

// margin is how far behind a chunk its last line is looked for at first.
const margin = 1 << 10

// fillAt reads into c the lines that begin in the chunk of the file at the byte from on. What was claimed is not always
// there: the file may have been cut since it was opened. A chunk inside one long line holds none.
func (s *rowStream) fillAt(c *chunk, from int64) {
	c.cut, c.err, c.skip, c.end = false, nil, 0, 0
	before := 0 // a line begins at from if the byte before it ends one
	if from > s.from {
		before = 1
	}
	own := before + s.chunk // where the next chunk begins in buf
	n, end := 0, -1
	first := before + int(min(int64(s.chunk), max(s.file.Size-from, 0))) + margin // the last chunk of a file may be short
	for size := first; end < 0; size *= 2 {
		if room := size + 1 + scan.Pad; len(c.buf) < room {
			c.buf = append(c.buf, make([]byte, room-len(c.buf))...)
		}
		k, err := s.file.At.ReadAt(c.buf[n:size], from-int64(before)+int64(n))
		n += k
		if n >= own {
			if i := bytes.IndexByte(c.buf[own-1:n], '\n'); i >= 0 {
				end = own + i
			}
		}
		switch {
		case end >= 0:
		case err == io.EOF:
			end = n
		case err != nil:
			c.err = Fault(s.name, err)
			end = bytes.LastIndexByte(c.buf[:n], '\n') + 1 // a line that begins here can't be told from a cut one
			s.finish()
		case n >= MaxLine:
			c.err = &acquire.Error{File: s.name, What: fmt.Sprintf("a line is longer than %d bytes", MaxLine), Expect: "rows of time and level", Err: acquire.ErrShape}
			s.finish()
			return
		}
	}
	if before > 0 {
		i := bytes.IndexByte(c.buf[:end], '\n')
		if i < 0 {
			return
		}
		c.skip = i + 1
	}
	if c.skip < end && c.buf[end-1] != '\n' {
		c.cut = c.buf[end-1] != '\r'
		c.buf[end] = '\n'
		end++
	}
	c.end = end
}

// fill reads whole lines into c; false when there is nothing left.
func (s *rowStream) fill(c *chunk) bool {
	if s.ended {
		return false
	}
	c.cut, c.err, c.skip = false, nil, 0
	size := s.chunk
	if s.alone {
		size = len(s.carry) + 1
	}
	for size < len(s.carry)+1 {
		size *= 2
	}
	if len(c.buf) < size+scan.Pad {
		c.buf = make([]byte, size+scan.Pad)
	}
	n := copy(c.buf, s.carry)
	s.carry = s.carry[:0]
	for empty := 0; ; {
		room := c.buf[:len(c.buf)-scan.Pad-1] // one byte for a line end that is missing
		for n < len(room) {
			k, err := s.r.Read(room[n:])
			n += k
			if k > 0 {
				empty = 0
			} else if empty++; empty == 100 {
				err = io.ErrNoProgress
			}
			if err != nil {
				s.ended = true
				if err != io.EOF {
					c.err = Fault(s.name, err)
				}
				break
			}
		}
		if s.ended {
			if c.err != nil { // what the input broke off in may be the beginning of a longer number
				n = bytes.LastIndexByte(c.buf[:n], '\n') + 1
			}
			if n > 0 && c.buf[n-1] != '\n' {
				c.cut = c.buf[n-1] != '\r'
				c.buf[n] = '\n'
				n++
			}
			c.end = n
			return n > 0 || c.err != nil
		}
		if i := bytes.LastIndexByte(room, '\n'); i >= 0 {
			c.end = i + 1
			s.carry = append(s.carry[:0], room[c.end:]...)
			return true
		}
		if len(c.buf) >= MaxLine {
			s.ended = true
			c.end = 0
			c.err = &acquire.Error{File: s.name, What: fmt.Sprintf("a line is longer than %d bytes", MaxLine), Expect: "rows of time and level", Err: acquire.ErrShape}
			return true
		}
		c.buf = append(c.buf, make([]byte, len(c.buf))...)
	}
}

// parse turns a chunk's text into columns. A fault of ours becomes the chunk's error: on a worker nobody else could
// catch it.
func (s *rowStream) parse(c *chunk) {
	defer func() {
		if fault := recover(); fault != nil {
			c.n, c.odd, c.end, c.skip = 0, nil, 0, 0
			c.err = &acquire.Error{File: s.name, What: fmt.Sprintf("the rows from here on made the reader fail (%v)", fault), Do: "this is a fault of the program: please report it with the file", Err: ErrFault}
			s.finish()
		}
	}()
	if c.end == c.skip {
		c.n, c.odd = 0, nil
		return
	}
	if s.trip != nil {
		s.trip(c.buf[c.skip:c.end])
	}
	s.layout.Parse(c.buf[c.skip:], c.end-c.skip, &c.rows)
	b := &c.batch
	b.n, b.value, b.odd, b.text = c.rows.N, c.rows.Value, c.rows.Odd, c.buf[c.skip:c.end]
	b.time = c.rows.Time
	if len(b.time) > 0 {
		b.time = b.time[:b.n]
	}
	b.rows, b.marked = &c.rows, c.rows.Marks
	s.look.clean(b)
	b.survey = s.look.survey(b)
}

func (s *rowStream) next() (*batch, error) {
	if s.late != nil {
		return nil, s.late
	}
	c := s.held
	if s.alone {
		if c == nil {
			c = &chunk{}
		}
		if !s.fill(c) {
			return nil, io.EOF
		}
		s.parse(c)
	} else {
		if s.order == nil {
			s.start()
		}
		for {
			if c != nil {
				s.free <- c
				s.held = nil
			}
			if c = s.ready(); c == nil {
				return nil, io.EOF
			}
			if c.end > c.skip || c.err != nil {
				break
			}
		}
	}
	if e := (*acquire.Error)(nil); errors.As(c.err, &e) && e.Err == ErrFault {
		e.Line = int(s.line)
	}
	s.held, s.late = c, c.err
	if c.err != nil && c.n == 0 && len(c.odd) == 0 {
		return nil, c.err
	}
	c.line = s.line
	s.line += int64(c.n + len(c.odd))
	return &c.batch, nil
}

// stop lets the workers end. It does not wait: one may be blocked reading from a terminal or a pipe.
func (s *rowStream) stop() {
	if s.quit != nil && !s.stopped {
		close(s.quit)
		s.stopped = true
	}
}

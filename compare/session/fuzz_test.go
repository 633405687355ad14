package session

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/compare/reconcile"
	"offbeat/fit/measure"
)

// followed is what one stream gave: each capture measured while the session watches it, what the session
// says at the end, and the same captures measured unwatched.
type followed struct {
	watched, plain []string
	shown          string
	marks          int
}

// followAll hears a stream to its end.
func followAll(t *testing.T, text []byte, read func(io.Reader) io.Reader) (f followed) {
	t.Helper()
	open := func() *open.Stream {
		src, err := open.NewStream("-", read(bytes.NewReader(text)), acquire.StreamOptions{})
		if err != nil {
			t.Fatal(err) // there are no options to be wrong about
		}
		return src
	}
	measured := func(c *acquire.Capture) string {
		m, err := measure.Run(c, measure.Options{})
		if err != nil {
			return err.Error()
		}
		b, err := json.Marshal(reconcile.Measured(m)) // which knows no NaN
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		return string(b)
	}
	s, src, alone := New(nil), open(), open()
	for {
		c, err := src.Next()
		d, err2 := alone.Next()
		if (err == nil) != (err2 == nil) {
			t.Fatalf("%q: watched %v, alone %v", text, err, err2)
		}
		if err != nil {
			break
		}
		f.watched, f.plain = append(f.watched, measured(s.Watch(c, src, func() {}))), append(f.plain, measured(d))
		live := s.Snapshot()
		if _, err := json.Marshal([]any{live.Session, live.Now, live.Drift, live.Time, live.Last}); err != nil {
			t.Fatalf("%q: %v", text, err)
		}
	}
	s.End(src)
	s.Trace()
	end := s.Snapshot()
	b, err := json.Marshal([]any{end.Session, end.Now, end.Time, end.Last})
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	f.shown = string(b)
	f.marks = len(src.Marks())
	return f
}

// FuzzSession: whatever a board prints, to be watched changes nothing about what is measured, every number shown is
// finite, the marks that the user set are kept, and it is all the same however the bytes arrive.
func FuzzSession(f *testing.F) {
	train := func(line func(i, at, lasted int) string) []byte {
		var b strings.Builder
		for i, at := 0, 1000; i < 24; i++ {
			lasted := 8700 - i%2*4400
			b.WriteString(line(i, at, lasted))
			at += lasted
		}
		return []byte(b.String())
	}
	f.Add(train(func(i, at, _ int) string { return fmt.Sprintf("%d,%d\n", at, (i+1)%2) }))
	f.Add(train(func(i, _, lasted int) string { return fmt.Sprintf("%c %d\r\n", "HL"[i%2], lasted) }))
	f.Add(train(func(_, _, lasted int) string { return fmt.Sprintf("%d\n", lasted) }))
	f.Add(train(func(i, at, _ int) string { return fmt.Sprintf("%d,%d\n%d,%d\n", at, 20+i%2*900, at+4000, 25+i%2*900) }))
	f.Add(train(func(i, at, _ int) string { return fmt.Sprintf("%d,%d\n", uint32(at+4294900000), (i+1)%2) }))
	f.Add(append([]byte("# offbeat stream 1\n# offbeat unit us\n"), train(func(i, at, _ int) string {
		return fmt.Sprintf("%d,%d\n# offbeat mark warm %d\n", at, (i+1)%2, i)
	})...))
	f.Fuzz(func(t *testing.T, text []byte) {
		whole := followAll(t, text, func(r io.Reader) io.Reader { return r })
		bytewise := followAll(t, text, iotest.OneByteReader)
		for i := range whole.watched {
			if whole.watched[i] != whole.plain[i] {
				t.Fatalf("%q: watched %s, unwatched %s", text, whole.watched[i], whole.plain[i])
			}
		}
		if fmt.Sprint(whole) != fmt.Sprint(bytewise) {
			t.Fatalf("%q: at once %+v, byte by byte %+v", text, whole, bytewise)
		}
	})
}

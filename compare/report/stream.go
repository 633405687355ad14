package report

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
)

// stream writes a JSON document of schema 1 that begins with a list, an item a line as they come.
type stream struct {
	w     *bufio.Writer
	begun bool
}

// begin begins a document with its list.
func begin(w io.Writer, list string) stream {
	s := stream{w: bufio.NewWriter(w)}
	s.w.WriteString("{\n  \"schema\": 1,\n  \"" + list + "\": [")
	return s
}

// item writes what the list holds of a board.
func (s *stream) item(board string, v any) error {
	text, err := compact(v)
	if err != nil {
		return fmt.Errorf("board %s: %w", board, err)
	}
	if s.begun {
		s.w.WriteByte(',')
	}
	s.begun = true
	s.w.WriteString("\n    ")
	_, err = s.w.Write(text)
	return err
}

// end writes what comes after the list, to the end of the document.
func (s *stream) end(rest string) error {
	s.w.WriteString("\n  ],\n" + rest)
	return s.w.Flush()
}

// compact is JSON on one line, by the rules of JSON.
func compact(document any) ([]byte, error) {
	var b bytes.Buffer
	err := encode(&b, document, "")
	return bytes.TrimSpace(b.Bytes()), err
}

package benchpage

import (
	"bytes"
	"errors"
	"io"
	"os"
	"sync"
)

// Tape keeps what is heard in the private folder as it arrives, so that any part of it can become a capture. Its methods may
// be called from any goroutine.
type Tape struct {
	files *Files
	head  []byte // the first piece, which says what is heard; each part begins with it

	mu   sync.Mutex
	file *os.File
	size int64 // bytes of the part
	line int64 // and of its whole lines
}

// NewTape makes one.
func (f *Files) NewTape() (*Tape, error) {
	file, err := os.CreateTemp(f.folder, "tape-") // mode 0600
	if err != nil {
		return nil, err
	}
	return &Tape{files: f, file: file}, nil
}

// Close takes the tape away.
func (t *Tape) Close() error { return errors.Join(t.file.Close(), os.Remove(t.file.Name())) }

// Write keeps what was heard.
func (t *Tape) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.head == nil {
		t.head = bytes.Clone(b)
	}
	if t.size+int64(len(b)) > t.files.largest {
		return 0, errTooLarge
	}
	n, err := t.file.Write(b)
	if i := bytes.LastIndexByte(b[:n], '\n'); i >= 0 {
		t.line = t.size + int64(i) + 1
	}
	t.size += int64(n)
	return n, err
}

// Anew forgets what was heard up to now.
func (t *Tape) Anew() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if err := t.file.Truncate(0); err != nil {
		return err
	}
	if _, err := t.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := t.file.Write(t.head)
	t.size, t.line = int64(len(t.head)), int64(len(t.head))
	return err
}

// Take makes a capture of the whole lines since the beginning or the last Anew.
func (t *Tape) Take(name string) (*File, error) {
	t.mu.Lock()
	line := t.line
	t.mu.Unlock()
	if line <= int64(len(t.head)) {
		return nil, errors.New("nothing has been heard yet; expected some ten pulses")
	}
	return t.files.Send(name, io.NewSectionReader(t.file, 0, line))
}

package benchpage

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
)

// What may be sent: as much as any capture of a bench holds, and no more than a disk can bear.
const (
	maxFile  = 2 << 30 // bytes of one capture
	maxFiles = 8 << 30 // bytes of all
	maxCount = 10000   // captures: a large lot
)

// File is a capture that the server has.
type File struct {
	ID     string `json:"id"`
	Name   string `json:"name"` // as its user calls it
	SHA256 string `json:"sha256"`
	Size   int64  `json:"size"`
	Path   string `json:"-"` // where it is
	Sent   bool   `json:"-"` // it is in the private folder
}

// Files are the captures of one run. Those that are sent go into a folder that nobody else may look into, and that Close
// takes away.
type Files struct {
	mu     sync.Mutex
	folder string
	all    map[string]*File
	taken  int64 // bytes in the folder

	largest, most int64 // bytes, of one and of all
}

// NewFiles makes the private folder.
func NewFiles() (*Files, error) {
	folder, err := os.MkdirTemp("", "offbeat-bench-") // mode 0700
	if err != nil {
		return nil, fmt.Errorf("there is no place for captures that are dropped on the page: %w", err)
	}
	return &Files{folder: folder, all: map[string]*File{}, largest: maxFile, most: maxFiles}, nil
}

// Close takes the private folder away.
func (f *Files) Close() error { return os.RemoveAll(f.folder) }

// Get finds a file; nil: there is none.
func (f *Files) Get(id string) *File {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.all[id]
}

// Named adds a file of the user's own, which stays where it is.
func (f *Files) Named(name, path string) (*File, error) {
	r, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	h := sha256.New()
	size, err := io.Copy(h, r)
	if err != nil {
		return nil, err
	}
	file := &File{ID: rand.Text(), Name: name, SHA256: hex.EncodeToString(h.Sum(nil)), Size: size, Path: path}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.all[file.ID] = file
	return file, nil
}

// Known adds a file of the user's own whose digest is known.
func (f *Files) Known(name, path, digest string) *File {
	file := &File{ID: rand.Text(), Name: name, SHA256: digest, Path: path}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.all[file.ID] = file
	return file
}

// Folder lays files out in a private folder under their paths, by links; the same files give the same folder. What all paths
// have in front is left out.
func (f *Files) Folder(files []LotFile) (string, error) {
	h := sha256.New()
	for _, l := range files {
		fmt.Fprintf(h, "%s %q\n", l.File, l.Path)
	}
	folder := filepath.Join(f.folder, "lot-"+hex.EncodeToString(h.Sum(nil)[:8]))
	if _, err := os.Stat(folder); err == nil {
		return folder, nil
	}
	making := folder + "-" + rand.Text()
	if err := os.Mkdir(making, 0o700); err != nil {
		return "", err
	}
	front := frontOf(files)
	for _, l := range files {
		file := f.Get(l.File)
		if file == nil {
			return "", fmt.Errorf("%s: the file is no longer here; drop the lot again", l.Path)
		}
		path := making
		for _, name := range strings.Split(strings.TrimPrefix(l.Path, front), "/") {
			if name == "" || plainName(name) != name {
				return "", fmt.Errorf("%q is no place for a file of a lot", l.Path)
			}
			if err := os.Mkdir(path, 0o700); err != nil && !errors.Is(err, os.ErrExist) {
				return "", err
			}
			path = filepath.Join(path, name)
		}
		if err := os.Link(file.Path, path); err != nil {
			return "", fmt.Errorf("%s can't be laid out beside the others: %w", l.Path, err)
		}
	}
	if err := os.Rename(making, folder); err != nil { // another request was faster
		os.RemoveAll(making)
	}
	return folder, nil
}

// frontOf is the folder that all paths begin with, with its slash; empty: none.
func frontOf(files []LotFile) string {
	front := ""
	for i, l := range files {
		name, _, found := strings.Cut(l.Path, "/")
		if !found || i > 0 && name+"/" != front {
			return ""
		}
		front = name + "/"
	}
	return front
}

// errTooLarge and errTooMany are what is not taken.
var (
	errTooLarge = errors.New("the capture is larger than the page takes; expected at most 2 GB: name it on the command line instead")
	errTooMany  = errors.New("the captures of this page are more than it takes; start offbeat bench anew, or name them on the command line")
)

// Send takes a file that is sent. It leaves nothing where it does not come whole.
func (f *Files) Send(name string, r io.Reader) (file *File, err error) {
	if name = plainName(name); name == "" {
		return nil, errors.New("the capture has no name; expected a file's name")
	}
	file = &File{ID: rand.Text(), Name: name, Sent: true}
	folder := filepath.Join(f.folder, file.ID) // its own, so that it keeps its name
	f.mu.Lock()
	room, count := f.most-f.taken, len(f.all)
	f.mu.Unlock()
	if count >= maxCount || room <= 0 {
		return nil, errTooMany
	}
	if err := os.Mkdir(folder, 0o700); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			os.RemoveAll(folder)
		}
	}()
	file.Path = filepath.Join(folder, name)
	w, err := os.OpenFile(file.Path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	h := sha256.New()
	file.Size, err = io.Copy(io.MultiWriter(w, h), io.LimitReader(r, min(f.largest, room)+1))
	switch {
	case err != nil:
		return nil, err
	case file.Size > f.largest:
		return nil, errTooLarge
	case file.Size > room:
		return nil, errTooMany
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	file.SHA256 = hex.EncodeToString(h.Sum(nil))
	f.mu.Lock()
	defer f.mu.Unlock()
	f.all[file.ID], f.taken = file, f.taken+file.Size
	return file, nil
}

// plainName keeps of a name what no system takes for a way to another folder.
func plainName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || strings.ContainsRune(`<>:"|?*`, r) {
			return '_'
		}
		return r
	}, name)
	if strings.Trim(name, ". ") == "" || len(name) > 200 {
		return ""
	}
	return name
}

// LotFile is a file of a lot, with its place among the others.
type LotFile struct {
	File string `json:"file"`
	Path string `json:"path"` // with slashes
}

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

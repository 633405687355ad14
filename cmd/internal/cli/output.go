package cli

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"

	"offbeat/acquire"
	"offbeat/cmd/internal/streams"
)

// writeText writes a file as writeFile does, through the filter that all text goes through; "-" is standard output,
// which has it already.
func writeText(name string, s *streams.Streams, write func(io.Writer) error) error {
	if name == "-" {
		to := &witness{w: s.Out}
		err := write(to)
		if to.err != nil || interrupted(err) {
			return printed(err)
		}
		return err
	}
	return writeFile(name, func(w io.Writer) error { return write(streams.Cleaner(w)) })
}

// witness remembers a failure to write.
type witness struct {
	w   io.Writer
	err error
}

func (o *witness) Write(b []byte) (int, error) {
	n, err := o.w.Write(b)
	if err != nil {
		o.err = err
	}
	return n, err
}

// writeFile writes a file whole or not at all: a name that appears is complete. One that is there keeps its mode, its
// owner and its links; a device or a pipe is written to as it is.
func writeFile(name string, write func(io.Writer) error) error {
	var work error // a fault of what was to fill the file, and not of the file
	err := fill(name, func(w io.Writer) error {
		to := &witness{w: w}
		err := write(to)
		if to.err == nil && !interrupted(err) {
			work = err
		}
		return err
	})
	if work != nil {
		return work
	}
	return unwritable(name, err)
}

// fill does so; what it returns does not name the file.
func fill(name string, write func(io.Writer) error) error {
	old, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if to, err := os.Readlink(name); err == nil { // a link to what is not there yet makes that
			if !filepath.IsAbs(to) {
				to = filepath.Join(filepath.Dir(name), to)
			}
			return fill(to, write)
		}
		return replace(name, nil, write)
	case err != nil:
		return err
	}
	f, err := os.OpenFile(name, os.O_WRONLY, 0) // also says whether it may be written, before any work
	if err != nil {
		return err
	}
	defer f.Close()
	if old.Mode().IsRegular() {
		return replace(name, f, write)
	}
	if err := write(f); err != nil {
		return err
	}
	return f.Close()
}

// replace writes a new file beside the named one and then puts it in its place. The old one is open where there is one.
// Where taking its place would cost something else (another link to it, its owner), it is written over instead.
func replace(name string, old *os.File, write func(io.Writer) error) error {
	ctx, stop := untilInterrupted() // before there is a file to be taken away
	defer stop()
	var was fs.FileInfo
	var err error
	if old != nil {
		if was, err = old.Stat(); err != nil {
			return err
		}
		if name, err = filepath.EvalSymlinks(name); err != nil {
			return err
		}
	}
	f, err := os.OpenFile(filepath.Join(filepath.Dir(name), ".offbeat-"+rand.Text()), os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil && old != nil { // the folder takes no new file, the file takes what is written
		f, err = os.CreateTemp("", "offbeat-")
	}
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already when it took the other's place
	defer f.Close()
	if err := write(interruptible{ctx, f}); err != nil {
		return err
	}
	if ctx.Err() != nil {
		return errInterrupted
	}
	is, err := f.Stat()
	if err != nil {
		return err
	}
	if old != nil && !(filepath.Dir(f.Name()) == filepath.Dir(name) && alone(was, is)) {
		return over(old, f)
	}
	if old != nil {
		if err := f.Chmod(was.Mode().Perm()); err != nil {
			return err
		}
		old.Close() // some systems replace no open file
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// over writes what a file holds into another.
func over(old, f *os.File) error {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	if err := old.Truncate(0); err != nil {
		return err
	}
	if _, err := io.Copy(old, f); err != nil {
		return err
	}
	return old.Close()
}

// untilInterrupted ends with Ctrl-C, with the terminal, when the system asks, and when nobody reads what is printed.
func untilInterrupted() (context.Context, context.CancelFunc) {
	var signals []os.Signal
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGPIPE} {
		if !signal.Ignored(s) { // who started us wants it so: nohup, a job in the background
			signals = append(signals, s)
		}
	}
	return signal.NotifyContext(context.Background(), signals...)
}

// interruptible stops taking bytes once the user has pressed Ctrl-C, so that the half-written file is taken away again.
type interruptible struct {
	ctx context.Context
	w   io.Writer
}

var errInterrupted = errors.New("interrupted")

func (i interruptible) Write(b []byte) (int, error) {
	if i.ctx.Err() != nil {
		return 0, errInterrupted
	}
	return i.w.Write(b)
}

// unwritable names the file that was meant; the temporary one means nothing to a user.
func unwritable(name string, err error) error {
	switch i, e := os.Stat(name); {
	case err == nil:
		return nil
	case interrupted(err):
		return fmt.Errorf("%w; %s is as it was", errInterrupted, name)
	case e == nil && i.IsDir():
		return fmt.Errorf("%s cannot be written: it is a folder; expected a file's name", name)
	}
	return fmt.Errorf("%s cannot be written: %w", name, acquire.Reason(err))
}

// interrupted says whether the user, not a fault, ended the work.
func interrupted(err error) bool {
	return errors.Is(err, errInterrupted) || errors.Is(err, context.Canceled)
}

// printed explains a failure to print.
func printed(err error) error {
	if err != nil {
		return fmt.Errorf("the result cannot be printed: %w", err)
	}
	return nil
}

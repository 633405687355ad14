//go:build unix

package listen

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"offbeat/acquire"
)

// At 1 Mbaud, 8N1, a port brings 100 000 bytes a second: 7692 lines of 13 bytes.
const (
	megabaudLines = 7692
	lineBytes     = 13
	usbFrame      = time.Millisecond // a USB adapter hands over what it has each frame
)

const boardEnv = "OFFBEAT_TEST_BOARD_SECONDS"

// TestBoardProcess is no test: the benchmark starts it as the board, a process of its own, so that its CPU
// time is not ours. It prints to file descriptor 3.
func TestBoardProcess(t *testing.T) {
	var seconds int
	if n, _ := fmt.Sscan(os.Getenv(boardEnv), &seconds); n != 1 {
		t.Skip("only the benchmark runs this")
	}
	out := os.NewFile(3, "board")
	var b []byte
	begin, printed := time.Now(), 0
	for now := uint32(4_000_000_000); printed < seconds*megabaudLines; time.Sleep(usbFrame) {
		b = b[:0]
		for due := int(time.Since(begin).Seconds() * megabaudLines); printed < min(due, seconds*megabaudLines); printed++ {
			b = fmt.Appendf(b, "%010d,%d\n", now, printed&1)
			now += 130
		}
		if _, err := out.Write(b); err != nil {
			t.Fatal(err)
		}
	}
}

// BenchmarkMegabaud hears a second of 1 Mbaud an operation, over a pseudo-terminal, with saving to disk. It
// reports the share of one core that it took, and fails if one edge is missing.
func BenchmarkMegabaud(b *testing.B) {
	board := newBoard(b)
	log, err := os.Create(filepath.Join(b.TempDir(), "saved.log"))
	if err != nil {
		b.Fatal(err)
	}
	defer log.Close()
	s, err := Start(b.Context(), Options{Port: board.name, Baud: 1_000_000, Save: log})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	cmd := exec.Command(os.Args[0], "-test.run=^TestBoardProcess$")
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%d", boardEnv, b.N))
	cmd.ExtraFiles = []*os.File{board.master}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	c, err := s.Next()
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	begin, busy := time.Now(), cpu(b)
	var blk acquire.Block
	for rows := 0; rows < b.N*megabaudLines-1; rows += blk.N { // the last edge is held back
		if err := c.Read(&blk); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
	wall := time.Since(begin)
	b.ReportMetric(100*(cpu(b)-busy).Seconds()/wall.Seconds(), "%core")
	b.ReportMetric(float64(b.N*megabaudLines)/wall.Seconds(), "edges/s")
	if err := cmd.Wait(); err != nil {
		b.Fatal(err)
	}
	n := int64(b.N) * megabaudLines
	if w := s.Counts(); w.Lines != n || w.Edges != n || w.Lost+w.Garbage+w.Resets+w.Backward != 0 {
		b.Fatalf("counts %+v, want %d edges and nothing lost", w, n)
	}
	if st, err := log.Stat(); err != nil || st.Size() < n*lineBytes {
		b.Fatalf("the log has %v, %v; want at least %d bytes", st, err, n*lineBytes)
	}
}

// cpu is the time this process has spent on the processor.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

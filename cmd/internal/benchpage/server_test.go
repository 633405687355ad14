package benchpage

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// deaf answers nothing but what the server does with it.
type deaf struct {
	begun chan struct{} // hears of each solve that begins
	ended chan error    // and why it ended
}

func (d *deaf) Start() (*Start, error)                    { return &Start{Name: "board.toml"}, nil }
func (d *deaf) Board(design, key, value string) *Board    { return &Board{Design: design} }
func (d *deaf) Save(*State, string, bool) (*Saved, error) { return nil, fs.ErrExist }
func (d *deaf) Judge(context.Context, *State, func(int, int)) (*Judged, error) {
	return nil, errors.New("no lot")
}
func (d *deaf) Heard() *Heard                                   { return nil }
func (d *deaf) Take(bool) (*File, error)                        { return nil, errors.New("nothing is heard") }
func (d *deaf) Fault(_ *State, err error) *Fault                { return &Fault{Message: err.Error(), Row: -1} }
func (d *deaf) Report(context.Context, *State, io.Writer) error { panic("a fault of the program") }
func (d *deaf) Trail(context.Context, *State) ([]Stage, error) {
	return nil, errors.New("nothing")
}
func (d *deaf) Solve(ctx context.Context, _ *State, tell func(string, int64, int64)) (*Answer, error) {
	d.begun <- struct{}{}
	<-ctx.Done()
	d.ended <- ctx.Err()
	return nil, ctx.Err()
}

func served(t *testing.T, wait time.Duration) (*Server, *deaf, *Files) {
	t.Helper()
	t.Setenv("TMPDIR", t.TempDir())
	files, err := NewFiles()
	if err != nil {
		t.Fatal(err)
	}
	d := &deaf{make(chan struct{}, 8), make(chan error, 8)}
	s, err := Serve(d, files, Options{Wait: wait})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close(); files.Close() })
	return s, d, files
}

// asks makes a request as the page does, after change has had its way with it.
func asks(t *testing.T, s *Server, method, name string, body io.Reader, change func(*http.Request)) (status int, answer string, header http.Header) {
	t.Helper()
	r, err := http.NewRequest(method, s.URL()+name, body)
	if err != nil {
		return 0, err.Error(), nil
	}
	u, _ := url.Parse(s.URL())
	r.Header.Set("Origin", "http://"+u.Host)
	r.Header.Set(keyHeader, s.key)
	if change != nil {
		change(r)
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, err.Error(), nil
	}
	defer a.Body.Close()
	b, _ := io.ReadAll(a.Body)
	return a.StatusCode, string(b), a.Header
}

// TestWhoMayAsk tries each door: only this machine, by this address, from this page, with this start's key.
func TestWhoMayAsk(t *testing.T) {
	s, _, _ := served(t, 0)
	u, _ := url.Parse(s.URL())
	if !net.ParseIP(u.Hostname()).IsLoopback() {
		t.Errorf("it listens on %s", u.Host)
	}
	if status, page, h := asks(t, s, "GET", "", nil, nil); status != http.StatusOK || !strings.Contains(page, "Do next") {
		t.Errorf("the page: %d", status)
	} else {
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store", "Cross-Origin-Resource-Policy": "same-origin"} {
			if h.Get(name) != want {
				t.Errorf("%s: %q", name, h.Get(name))
			}
		}
		policy := h.Get("Content-Security-Policy")
		if !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") || !strings.Contains(policy, "frame-ancestors 'none'") {
			t.Errorf("policy %s", policy)
		}
		if strings.Contains(page, "<style") || strings.Contains(page, " style=") || strings.Contains(page, " onclick") || strings.Contains(page, "<script>") {
			t.Error("the page has style or script inline")
		}
	}
	other, _, _ := served(t, 0)
	for name, change := range map[string]func(*http.Request){
		"another name for this machine": func(r *http.Request) { r.Host = "bench.example" },
		"a name made to point here":     func(r *http.Request) { r.Host = "bench.example"; r.Header.Set("Origin", "http://bench.example") },
		"another port":                  func(r *http.Request) { r.Host = "127.0.0.1:1" },
		"another page":                  func(r *http.Request) { r.Header.Set("Origin", "http://example.org") },
		"a page of another port":        func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") },
		"a page of no origin":           func(r *http.Request) { r.Header.Set("Origin", "null") },
		"no origin said":                func(r *http.Request) { r.Header.Del("Origin") },
		"a secure page":                 func(r *http.Request) { r.Header.Set("Origin", "https://"+u.Host) },
		"no key":                        func(r *http.Request) { r.Header.Del(keyHeader) },
		"another start's key":           func(r *http.Request) { r.Header.Set(keyHeader, other.key) },
		"a key cut short":               func(r *http.Request) { r.Header.Set(keyHeader, s.key[:len(s.key)-1]) },
		"another start's address":       func(r *http.Request) { r.URL.Path = "/" + other.key + "/start" },
		"an empty key in the address":   func(r *http.Request) { r.URL.Path = "/x/start" },
	} {
		if status, answer, _ := asks(t, s, "POST", "start", strings.NewReader("{}"), change); status != http.StatusForbidden {
			t.Errorf("%s: %d %s", name, status, answer)
		}
	}
	if status, _, _ := asks(t, s, "POST", "start", strings.NewReader("{}"), nil); status != http.StatusOK {
		t.Errorf("the page itself: %d", status)
	}
	for _, name := range []string{"start", "board", "solve", "trail", "report", "save", "send", "heard", "take", "lot"} {
		if status, _, _ := asks(t, s, "GET", name, nil, nil); status < 400 {
			t.Errorf("GET %s: %d: what changes something must be a POST", name, status)
		}
	}
	for _, name := range []string{"", "page.css", "page.js", "lot.js", "state.js", "server.js"} {
		for what, change := range map[string]func(*http.Request){
			"another start's key":           func(r *http.Request) { r.URL.Path = "/" + other.key + "/" + name },
			"another name for this machine": func(r *http.Request) { r.Host = "bench.example" },
			"a name made to point here":     func(r *http.Request) { r.Host = "bench.example"; r.Header.Del("Origin") },
			"another page":                  func(r *http.Request) { r.Header.Set("Origin", "http://example.org") },
		} {
			if status, answer, _ := asks(t, s, "GET", name, nil, change); status != http.StatusForbidden || strings.Contains(answer, s.key) {
				t.Errorf("GET %q, %s: %d %s", name, what, status, answer)
			}
		}
	}
	for _, path := range []string{"page.html", "../server.go", "..%2f..%2fserver.go", "page/page.html", "%2e%2e/%2e%2e/etc/passwd", "..\\..\\server.go"} {
		if status, _, _ := asks(t, s, "GET", path, nil, nil); status < 400 {
			t.Errorf("GET %s: %d", path, status)
		}
	}
	r, err := http.Get("http://" + u.Host + "/")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if body, _ := io.ReadAll(r.Body); r.StatusCode < 400 || strings.Contains(string(body), s.key) {
		t.Errorf("the bare address: %d %s", r.StatusCode, body)
	}
}

// TestSends: captures go into the private folder, whole or not at all, and no further.
func TestSends(t *testing.T) {
	s, _, files := served(t, 0)
	files.largest, files.most = 1000, 2500
	for name, want := range map[string]string{"a.csv": "a.csv", "../../etc/x": "x", `C:\bench\b.csv`: "b.csv", "c\x00\n:.csv": "c___.csv", "..": "", "": "", "/": "", strings.Repeat("n", 300): ""} {
		status, answer, _ := asks(t, s, "POST", "send?name="+url.QueryEscape(name), strings.NewReader("0,1\n"), nil)
		if want == "" {
			if status == http.StatusOK {
				t.Errorf("%q was taken: %s", name, answer)
			}
			continue
		}
		var f File
		if err := json.Unmarshal([]byte(answer), &f); err != nil || status != http.StatusOK || f.Name != want {
			t.Errorf("%q: %d %s", name, status, answer)
			continue
		}
		got := files.Get(f.ID)
		if rel, err := filepath.Rel(files.folder, got.Path); err != nil || strings.HasPrefix(rel, "..") {
			t.Errorf("%q went to %s", name, got.Path)
		}
		if i, err := os.Stat(got.Path); err != nil || i.Mode().Perm() != 0o600 {
			t.Errorf("%q: %v %v", name, i.Mode(), err)
		}
	}
	folders := func() int {
		all, err := os.ReadDir(files.folder)
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	before := folders()
	if status, answer, _ := asks(t, s, "POST", "send?name=big.csv", bytes.NewReader(make([]byte, 1001)), nil); status != http.StatusRequestEntityTooLarge {
		t.Errorf("too large a capture: %d %s", status, answer)
	}
	for range 4 {
		asks(t, s, "POST", "send?name=full.csv", bytes.NewReader(make([]byte, 1000)), nil)
	}
	if files.taken > files.most {
		t.Errorf("%d bytes were taken, at most %d may be", files.taken, files.most)
	}
	if n := folders(); n > before+2 {
		t.Errorf("%d folders, were %d: what did not come whole has left something", n, before)
	}
	if status, _, _ := asks(t, s, "POST", "board", bytes.NewReader(bytes.Repeat([]byte(`{"x":"`), maxState)), nil); status != http.StatusBadRequest {
		t.Errorf("a state of %d MB: %d", maxState>>20, status)
	}
}

// TestStopped: a question that is overtaken, or whose page is gone, is worked on no longer; and a fault of the program is an
// answer.
func TestStopped(t *testing.T) {
	s, d, _ := served(t, 0)
	ctx, cancel := context.WithCancel(t.Context())
	go asks(t, s, "POST", "solve", strings.NewReader("{}"), func(r *http.Request) { *r = *r.WithContext(ctx) })
	<-d.begun
	cancel()
	select {
	case err := <-d.ended:
		if !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Error("the work goes on though nobody waits for it")
	}
	go asks(t, s, "POST", "solve", strings.NewReader("{}"), nil)
	<-d.begun
	if status, answer, _ := asks(t, s, "POST", "report", strings.NewReader("{}"), nil); status != http.StatusUnprocessableEntity || !strings.Contains(answer, "internal failure") {
		t.Errorf("a fault of the program: %d %s", status, answer)
	}
	if status, _, _ := asks(t, s, "POST", "save", strings.NewReader("{}"), nil); status != http.StatusConflict {
		t.Errorf("a file that is there: %d", status)
	}
	s.Close()
	select {
	case <-d.ended:
	case <-time.After(10 * time.Second):
		t.Error("the work goes on after the end")
	}
}

// TestPatience: who sends nothing is not waited for, and who sends slowly is.
func TestPatience(t *testing.T) {
	s, _, files := served(t, 300*time.Millisecond)
	u, _ := url.Parse(s.URL())
	c, err := net.Dial("tcp", u.Host)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "GET / HT")
	c.SetReadDeadline(time.Now().Add(10 * time.Second))
	if _, err := io.ReadAll(c); err != nil {
		t.Errorf("half a request is waited for: %v", err)
	}
	r, w := io.Pipe()
	go func() {
		for range 10 {
			time.Sleep(100 * time.Millisecond)
			w.Write([]byte("0,1\n"))
		}
		w.Close()
	}()
	if status, answer, _ := asks(t, s, "POST", "send?name=slow.csv", r, nil); status != http.StatusOK {
		t.Errorf("a slow capture: %d %s", status, answer)
	}
	stuck, hold := io.Pipe()
	defer hold.Close()
	go hold.Write([]byte("0,1\n"))
	if status, answer, _ := asks(t, s, "POST", "send?name=stuck.csv", stuck, nil); status == http.StatusOK {
		t.Errorf("a capture that never ends: %d %s", status, answer)
	}
	c2, err := net.Dial("tcp", u.Host)
	if err != nil {
		t.Fatal(err)
	}
	defer c2.Close()
	fmt.Fprintf(c2, "POST %sboard HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\n%s: %s\r\nContent-Length: 100\r\n\r\n{\"design\":", u.Path, u.Host, u.Host, keyHeader, s.key)
	c2.SetReadDeadline(time.Now().Add(10 * time.Second))
	if answer, err := io.ReadAll(c2); err != nil || strings.Contains(string(answer), "200 OK") {
		t.Errorf("a question that never ends is waited for, or answered: %v %s", err, answer)
	}
	if n, _ := os.ReadDir(files.folder); len(n) != 1 {
		t.Errorf("%d captures are kept, want the slow one", len(n))
	}
}

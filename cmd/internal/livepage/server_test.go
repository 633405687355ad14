package livepage

import (
	"bufio"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"offbeat/compare/report/page"
)

// serve starts a page of an empty session; marks set there come out of the channel.
func serve(t *testing.T) (s *Server, marks chan string) {
	t.Helper()
	marks = make(chan string, 8)
	s, err := Start(Options{
		Heard: func() *page.Heard { return &page.Heard{Source: "a test", State: "listening <to> a test"} },
		Mark: func(text string) error {
			if text == "fail" {
				return errors.New("the port is gone")
			}
			marks <- text
			return nil
		},
		Report: func(w io.Writer) error { _, err := io.WriteString(w, "the report"); return err },
		Every:  10 * time.Millisecond,
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s, marks
}

// ask sends a request with other headers than a client would by itself.
func ask(t *testing.T, method, url, body string, header map[string]string) (status int, text string, h http.Header) {
	t.Helper()
	r, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for k, v := range header {
		if k == "Host" {
			r.Host = v
		} else {
			r.Header.Set(k, v)
		}
	}
	client := &http.Client{Timeout: 10 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	a, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return a.StatusCode, string(b), a.Header
}

func TestLoopbackOnly(t *testing.T) {
	s, _ := serve(t)
	if !strings.HasPrefix(s.URL(), "http://127.0.0.1:") {
		t.Errorf("served at %s", s.URL())
	}
}

func TestGuard(t *testing.T) {
	s, marks := serve(t)
	host := strings.TrimSuffix(strings.TrimPrefix(s.URL(), "http://"), "/")
	_, port, _ := strings.Cut(host, ":")
	own := strings.TrimSuffix(s.URL(), "/")
	for _, c := range []struct {
		name, method, path string
		header             map[string]string
		want               int
	}{
		{"the page", "GET", "", nil, 200},
		{"by name", "GET", "", map[string]string{"Host": "localhost:" + port}, 200},
		{"a name made to point here", "GET", "", map[string]string{"Host": "evil.example:" + port}, 403},
		{"no port in the name", "GET", "", map[string]string{"Host": "localhost"}, 403},
		{"another port", "GET", "", map[string]string{"Host": "127.0.0.1:1"}, 403},
		{"read by another page", "GET", "events", map[string]string{"Origin": "http://evil.example"}, 403},
		{"style", "GET", "page.css", nil, 200},
		{"script", "GET", "page.js", nil, 200},
		{"nothing there", "GET", "etc/passwd", nil, 404},
		{"a mark from here", "POST", "mark", map[string]string{"Origin": own}, 204},
		{"a mark from here by name", "POST", "mark", map[string]string{"Origin": "http://localhost:" + port, "Host": "localhost:" + port}, 204},
		{"a mark without script", "POST", "mark", map[string]string{"Origin": own, "Sec-Fetch-Mode": "navigate"}, 303},
		{"a mark from nowhere", "POST", "mark", nil, 403},
		{"a mark from another page", "POST", "mark", map[string]string{"Origin": "http://evil.example"}, 403},
		{"a mark from another port", "POST", "mark", map[string]string{"Origin": "http://127.0.0.1:1"}, 403},
		{"a mark from a sandbox", "POST", "mark", map[string]string{"Origin": "null"}, 403},
		{"a mark by GET", "GET", "mark", nil, 405},
	} {
		status, _, h := ask(t, c.method, s.URL()+c.path, "text=cooled+C1", c.header)
		if status != c.want {
			t.Errorf("%s: status %d, want %d", c.name, status, c.want)
		}
		if set := status == 204 || status == 303; set != (len(marks) == 1) {
			t.Errorf("%s: %d marks set", c.name, len(marks))
		}
		for len(marks) > 0 {
			if got := <-marks; got != "cooled C1" {
				t.Errorf("%s: mark %q", c.name, got)
			}
		}
		if !strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") || h.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: headers %v", c.name, h)
		}
	}
}

func TestMarkFaults(t *testing.T) {
	s, _ := serve(t)
	own := map[string]string{"Origin": strings.TrimSuffix(s.URL(), "/")}
	for _, c := range []struct {
		body, says string
		want       int
	}{
		{"text=+", "a few words", 400},
		{"", "a few words", 400},
		{"text=" + strings.Repeat("x", 500), "a few words only", 400},
		{"text=" + strings.Repeat("x", 1<<20), "a few words", 400},
		{"text=fail", "the port is gone", 500},
	} {
		if status, text, _ := ask(t, "POST", s.URL()+"mark", c.body, own); status != c.want || !strings.Contains(text, c.says) {
			t.Errorf("%.20q: %d %q, want %d and %q", c.body, status, text, c.want, c.says)
		}
	}
}

func TestPageEscapes(t *testing.T) {
	s, _ := serve(t)
	_, text, _ := ask(t, "GET", s.URL(), "", nil)
	if !strings.Contains(text, "listening &lt;to&gt; a test") || strings.Contains(text, "<to>") {
		t.Errorf("the state is not escaped:\n%s", text)
	}
	for _, outside := range []string{"http://", "https://", "//"} {
		if strings.Contains(text, outside) {
			t.Errorf("the page holds %q: it must need nothing from outside", outside)
		}
	}
}

func TestReportIsSaved(t *testing.T) {
	s, _ := serve(t)
	status, text, h := ask(t, "GET", s.URL()+"report.html", "", nil)
	if status != 200 || text != "the report" || !strings.HasPrefix(h.Get("Content-Disposition"), "attachment;") {
		t.Errorf("%d %q %v", status, text, h)
	}
}

// The events bring all parts first, then signs of life; Close ends them.
func TestEvents(t *testing.T) {
	s, _ := serve(t)
	r, err := http.Get(s.URL() + "events")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if kind := r.Header.Get("Content-Type"); kind != "text/event-stream" {
		t.Errorf("type %q", kind)
	}
	lines := bufio.NewScanner(r.Body)
	lines.Buffer(nil, 1<<20)
	first, alive := "", 0
	for alive < 2 && lines.Scan() {
		switch l := lines.Text(); {
		case strings.HasPrefix(l, "data: "):
			first += l
		case strings.HasPrefix(l, ":"):
			alive++
		}
	}
	for _, place := range page.LivePlaces {
		if !strings.Contains(first, `"`+place+`":`) {
			t.Errorf("no %s in %s", place, first)
		}
	}
	s.Close()
	for lines.Scan() {
	}
}

// A request that never comes whole, a connection on which nothing more comes and a browser that takes nothing are given
// up; events go on all the same.
func TestNothingIsWaitedForForever(t *testing.T) {
	const wait = 150 * time.Millisecond
	s, err := Start(Options{
		Heard: func() *page.Heard {
			return &page.Heard{Source: "a test", State: time.Now().String() + strings.Repeat("x", 1<<18)}
		},
		Mark:   func(string) error { return nil },
		Report: func(io.Writer) error { return nil },
		Every:  10 * time.Millisecond,
		Wait:   wait,
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	host := strings.TrimSuffix(strings.TrimPrefix(s.URL(), "http://"), "/")
	for what, c := range map[string]struct {
		send string
		read bool
		ends bool
	}{
		"half a header":        {"GET / HT", true, true},
		"a body cut short":     {"POST /mark HTTP/1.1\r\nHost: " + host + "\r\nOrigin: http://" + host + "\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 400\r\n\r\ntext=ho", true, true},
		"a body on a page":     {"GET /page.css HTTP/1.1\r\nHost: " + host + "\r\nContent-Length: 400\r\n\r\nx", true, true},
		"nothing more":         {"GET /page.css HTTP/1.1\r\nHost: " + host + "\r\n\r\n", true, true},
		"events taken":         {"GET /events HTTP/1.1\r\nHost: " + host + "\r\n\r\n", true, false},
		"events taken by none": {"GET /events HTTP/1.1\r\nHost: " + host + "\r\n\r\n", false, true},
	} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			conn, err := net.Dial("tcp", host)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			if _, err := io.WriteString(conn, c.send); err != nil {
				t.Fatal(err)
			}
			if !c.read {
				time.Sleep(10 * wait) // the buffers between are full long before
			}
			conn.SetReadDeadline(time.Now().Add(20 * wait))
			_, err = io.Copy(io.Discard, conn)
			var slow net.Error
			if open := errors.As(err, &slow) && slow.Timeout(); open == c.ends {
				t.Errorf("still open: %v, want it to end: %v", open, c.ends)
			}
		})
	}
}

package benchpage

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"offbeat/cmd/internal/loopback"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/page"
	"offbeat/fit/workers"
)

//go:embed page
var pageFiles embed.FS

// Options say where to serve, and how long to wait.
type Options struct {
	Port int           // 0: a free one
	Wait time.Duration // for a request to come or an answer to go on; default 15 s
}

// Server is the page while it is served.
type Server struct {
	opt    Options
	bench  Bench
	files  *Files
	http   *http.Server
	key    string
	url    string
	done   context.Context
	finish context.CancelFunc
	once   sync.Once
}

// maxState is far more than a design with its evidence takes, in bytes.
const maxState = 4 << 20

// keyHeader carries the key with each request that is not a page.
const keyHeader = "Offbeat-Key"

// Serve serves the page on the loopback address.
func Serve(bench Bench, files *Files, opt Options) (*Server, error) {
	opt.Wait = cmp.Or(opt.Wait, 15*time.Second)
	l, err := loopback.Listen(opt.Port)
	if err != nil {
		return nil, err
	}
	s := &Server{opt: opt, bench: bench, files: files, key: rand.Text()}
	s.url = l.URL() + s.key + "/"
	s.done, s.finish = context.WithCancel(context.Background())
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{key}/{$}", s.keyed(s.asset("page.html")))
	for _, name := range []string{"page.css", "page.js", "lot.js", "state.js", "server.js"} {
		mux.HandleFunc("GET /{key}/"+name, s.keyed(s.asset(name)))
	}
	for name, do := range map[string]http.HandlerFunc{"start": s.start, "board": s.board, "solve": s.solve, "trail": s.trail, "report": s.report, "save": s.save, "send": s.send, "heard": s.heard, "take": s.take, "lot": s.lot} {
		mux.HandleFunc("POST /{key}/"+name, s.keyed(s.changing(do)))
	}
	s.http = &http.Server{Handler: s.timed(l.Guard(mux)), ReadHeaderTimeout: opt.Wait, IdleTimeout: 8 * opt.Wait, MaxHeaderBytes: 1 << 14}
	go s.http.Serve(l)
	return s, nil
}

// URL is where the page is, with the key of this start.
func (s *Server) URL() string { return s.url }

// Close ends the server and what it is at. It may be called again.
func (s *Server) Close() {
	s.once.Do(func() {
		s.finish()
		s.http.Close()
	})
}

// timed lets a request and its answer take a while, and turns a fault of the program into an answer.
func (s *Server) timed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c := http.NewResponseController(w)
		c.SetReadDeadline(time.Now().Add(s.opt.Wait))
		c.SetWriteDeadline(time.Now().Add(s.opt.Wait))
		defer func() {
			if err := workers.Caught(recover()); err != nil {
				s.fault(w, nil, err)
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// keyed asks for the key in the address.
func (s *Server) keyed(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.isKey(r.PathValue("key")) {
			http.Error(w, "this address has no key of a running bench page; the program prints the right one as it starts", http.StatusForbidden)
			return
		}
		next(w, r)
	}
}

// changing asks for the key beside the address too: a page that only leads here can't send it.
func (s *Server) changing(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.isKey(r.Header.Get(keyHeader)) {
			http.Error(w, "the request does not carry the key of the page", http.StatusForbidden)
			return
		}
		next(w, r)
	}
}

func (s *Server) isKey(key string) bool {
	return subtle.ConstantTimeCompare([]byte(key), []byte(s.key)) == 1
}

var kinds = map[string]string{".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8"}

func (s *Server) asset(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		body, err := fs.ReadFile(pageFiles, "page/"+name)
		if err != nil {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", kinds[path.Ext(name)])
		if name == "page.css" {
			io.WriteString(w, page.Style())
		}
		w.Write(body)
	}
}

// taken reads a request's JSON; false: it was answered.
func taken[T any](w http.ResponseWriter, r *http.Request) (*T, bool) {
	v := new(T)
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxState)).Decode(v); err != nil {
		http.Error(w, "the request can't be read: "+err.Error(), http.StatusBadRequest)
		return nil, false
	}
	// Nothing more is to come, and the answer may take longer than a request.
	http.NewResponseController(w).SetReadDeadline(time.Time{})
	return v, true
}

// reply answers with JSON.
func (s *Server) reply(w http.ResponseWriter, status int, v any) {
	http.NewResponseController(w).SetWriteDeadline(time.Now().Add(s.opt.Wait))
	b, err := json.Marshal(v)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	w.Write([]byte(streams.Clean(string(b))))
}

// fault answers with an error.
func (s *Server) fault(w http.ResponseWriter, state *State, err error) {
	s.reply(w, http.StatusUnprocessableEntity, map[string]*Fault{"fault": s.bench.Fault(state, err)})
}

// answered replies with what a question gave.
func (s *Server) answered(w http.ResponseWriter, state *State, v any, err error) {
	if err != nil {
		s.fault(w, state, err)
		return
	}
	s.reply(w, http.StatusOK, v)
}

func (s *Server) start(w http.ResponseWriter, r *http.Request) {
	v, err := s.bench.Start()
	s.answered(w, nil, v, err)
}

func (s *Server) board(w http.ResponseWriter, r *http.Request) {
	type asked struct{ Design, Key, Value string }
	if q, ok := taken[asked](w, r); ok {
		s.reply(w, http.StatusOK, s.bench.Board(q.Design, q.Key, q.Value))
	}
}

// solve answers a state in lines of JSON: how far the reading has come, then the answer or why there is none. It stops when
// the page asks for something newer.
func (s *Server) solve(w http.ResponseWriter, r *http.Request) {
	s.lines(w, r, func(ctx context.Context, state *State, line func(any)) (any, error) {
		return s.bench.Solve(ctx, state, func(name string, read, total int64) {
			line(map[string]any{"reading": name, "read": read, "total": total})
		})
	})
}

// lot judges a state's lot in the same way.
func (s *Server) lot(w http.ResponseWriter, r *http.Request) {
	s.lines(w, r, func(ctx context.Context, state *State, line func(any)) (any, error) {
		return s.bench.Judge(ctx, state, func(done, total int) { line(map[string]any{"done": done, "total": total}) })
	})
}

// lines answers a state with what do gives, and with a line now and then that do writes before.
func (s *Server) lines(w http.ResponseWriter, r *http.Request, do func(context.Context, *State, func(any)) (any, error)) {
	state, ok := taken[State](w, r)
	if !ok {
		return
	}
	w.Header().Set("Content-Type", "application/x-ndjson")
	ctx, stop := s.until(r)
	defer stop()
	out := http.NewResponseController(w)
	line := func(v any) {
		b, err := json.Marshal(v)
		if err != nil {
			return
		}
		out.SetWriteDeadline(time.Now().Add(s.opt.Wait))
		w.Write([]byte(streams.Clean(string(b)) + "\n"))
		out.Flush()
	}
	var told time.Time
	var lock sync.Mutex
	answer, err := do(ctx, state, func(v any) {
		lock.Lock()
		defer lock.Unlock()
		if time.Since(told) < 200*time.Millisecond {
			return
		}
		told = time.Now()
		line(v)
	})
	lock.Lock()
	defer lock.Unlock()
	switch {
	case ctx.Err() != nil:
		return
	case err != nil:
		line(map[string]*Fault{"fault": s.bench.Fault(state, err)})
	default:
		line(map[string]any{"answer": answer})
	}
}

// until is a request's context, which ends with the server too.
func (s *Server) until(r *http.Request) (context.Context, context.CancelFunc) {
	ctx, stop := context.WithCancel(r.Context())
	undo := context.AfterFunc(s.done, stop)
	return ctx, func() { undo(); stop() }
}

func (s *Server) trail(w http.ResponseWriter, r *http.Request) {
	if state, ok := taken[State](w, r); ok {
		ctx, stop := s.until(r)
		defer stop()
		v, err := s.bench.Trail(ctx, state)
		s.answered(w, state, v, err)
	}
}

// report hands out the answer as one page, which keeps its style inside and needs no policy of ours.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	state, ok := taken[State](w, r)
	if !ok {
		return
	}
	ctx, stop := s.until(r)
	defer stop()
	var b strings.Builder
	if err := s.bench.Report(ctx, state, streams.Cleaner(&b)); err != nil {
		s.fault(w, state, err)
		return
	}
	http.NewResponseController(w).SetWriteDeadline(time.Now().Add(s.opt.Wait))
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="offbeat-report.html"`)
	io.WriteString(w, b.String())
}

func (s *Server) save(w http.ResponseWriter, r *http.Request) {
	type asked struct {
		State State  `json:"state"`
		Name  string `json:"name"`
		Over  bool   `json:"over"`
	}
	q, ok := taken[asked](w, r)
	if !ok {
		return
	}
	v, err := s.bench.Save(&q.State, q.Name, q.Over)
	if errors.Is(err, fs.ErrExist) {
		s.reply(w, http.StatusConflict, map[string]*Fault{"fault": {Message: err.Error(), Short: err.Error(), Row: -1}})
		return
	}
	s.answered(w, &q.State, v, err)
}

func (s *Server) heard(w http.ResponseWriter, r *http.Request) {
	s.reply(w, http.StatusOK, s.bench.Heard())
}

func (s *Server) take(w http.ResponseWriter, r *http.Request) {
	type asked struct {
		Keep bool `json:"keep"`
	}
	if q, ok := taken[asked](w, r); ok {
		f, err := s.bench.Take(q.Keep)
		s.answered(w, nil, f, err)
	}
}

// send takes a capture: its bytes are the request.
func (s *Server) send(w http.ResponseWriter, r *http.Request) {
	f, err := s.files.Send(r.URL.Query().Get("name"), &patient{r: r.Body, c: http.NewResponseController(w), wait: s.opt.Wait})
	if errors.Is(err, errTooLarge) || errors.Is(err, errTooMany) {
		s.reply(w, http.StatusRequestEntityTooLarge, map[string]*Fault{"fault": {Message: err.Error(), Short: err.Error(), Row: -1}})
		return
	}
	if err != nil {
		err = fmt.Errorf("the capture did not come whole: %w", err)
	}
	s.answered(w, nil, f, err)
}

// patient gives a sender a while for each piece, however long the whole takes.
type patient struct {
	r    io.Reader
	c    *http.ResponseController
	wait time.Duration
}

func (p *patient) Read(b []byte) (int, error) {
	p.c.SetReadDeadline(time.Now().Add(p.wait))
	return p.r.Read(b)
}

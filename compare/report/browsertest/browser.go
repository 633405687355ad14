// Package browsertest looks at pages in a headless Chromium, for tests.
package browsertest

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// Browser is a page of its own in a headless Chromium, driven over the DevTools protocol.
type Browser struct {
	t       *testing.T
	c       *chromium
	session string // of the page
	scheme  string // of colours
	events  []event
	loaded  chan struct{}
}

// chromium is the one that all tests of a program share; it ends when that program does, with the pipes between them.
type chromium struct {
	to      *os.File
	lock    sync.Mutex // for all that follows, and the pages' events
	last    int
	waiting map[int]chan reply
	pages   map[string]*Browser // by session
	idle    []string            // sessions of windows whose tests have ended
	judged  []string            // looks of texts that the accessibility checker has been given
}

// reply is what the browser answers, and event what it tells unasked.
type reply struct {
	Result json.RawMessage
	Error  *struct{ Message string }
}

type event struct {
	Method string
	Params json.RawMessage
}

// patience is how long the browser may take for one thing.
const patience = 60 * time.Second

// idle is what the browser does for a person who goes on to the next page and back: processes kept ready, pages kept alive.
const idle = "SpareRendererForSitePerProcess,BackForwardCache,ProactivelySwapBrowsingInstance"

// oneThread keeps the engine of scripts from compiling and collecting beside itself: of a minute of pages it saves a tenth of the time of all cores.
const oneThread = "--single-threaded"

// running starts the browser, once: where there is the shell that has no windows of its own, that one, at two thirds of the time.
var running = sync.OnceValues(func() (*chromium, error) {
	binary := ""
	for _, name := range []string{"chromium-headless-shell", "chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil && binary == "" {
			binary = p
		}
	}
	if binary == "" {
		return nil, errors.New("Chromium is not installed: the page is not looked at in a browser")
	}
	in, to, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	from, out, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(binary, "--headless", "--remote-debugging-pipe", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-dev-shm-usage",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars", "--disable-features="+idle, "--js-flags="+oneThread, "about:blank")
	cmd.ExtraFiles = []*os.File{in, out}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("Chromium does not start: %w", err)
	}
	in.Close()
	out.Close()
	c := &chromium{to: to, waiting: map[int]chan reply{}, pages: map[string]*Browser{}, judged: []string{}}
	go c.listen(bufio.NewReader(from))
	return c, nil
})

// New opens a page of its own, that knows nothing of those before it, or skips the test where there is no Chromium. The window stays
// when its test ends and is the next one's: to open one takes the browser longer than to show a page.
func New(t *testing.T) *Browser {
	t.Helper()
	c, err := running()
	if err != nil {
		t.Skip(err)
	}
	b := &Browser{t: t, c: c, loaded: make(chan struct{}, 1)}
	c.lock.Lock()
	if n := len(c.idle); n > 0 {
		b.session, c.idle = c.idle[n-1], c.idle[:n-1]
		c.pages[b.session] = b
	}
	c.lock.Unlock()
	t.Cleanup(func() {
		b.Open("about:blank")
		c.lock.Lock()
		c.idle = append(c.idle, b.session)
		c.lock.Unlock()
	})
	if b.session != "" {
		for _, cmd := range []string{"Emulation.setEmulatedMedia", "Emulation.clearDeviceMetricsOverride", "Network.clearBrowserCookies", "Network.clearBrowserCache"} {
			b.CDP(cmd, nil, nil)
		}
		b.CDP("Network.emulateNetworkConditions", map[string]any{"offline": false, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}, nil)
		return b
	}
	var attached struct{ SessionID string }
	b.CDP("Target.attachToTarget", map[string]any{"targetId": b.window(), "flatten": true}, &attached)
	c.lock.Lock()
	b.session, c.pages[attached.SessionID] = attached.SessionID, b
	c.lock.Unlock()
	for _, domain := range []string{"Page", "Runtime", "Log", "Network", "DOM"} {
		b.CDP(domain+".enable", nil, nil)
	}
	return b
}

// window is the one that the browser began with, or where a test has that a new one, which is a process more.
func (b *Browser) window() string {
	b.t.Helper()
	var all struct {
		TargetInfos []struct {
			TargetID, Type string
			Attached       bool
		}
	}
	b.CDP("Target.getTargets", nil, &all)
	for _, w := range all.TargetInfos {
		if w.Type == "page" && !w.Attached {
			return w.TargetID
		}
	}
	var made struct{ TargetID string }
	b.CDP("Target.createTarget", map[string]any{"url": "about:blank"}, &made)
	return made.TargetID
}

// listen takes what the browser says: messages that end in a zero byte.
func (c *chromium) listen(from *bufio.Reader) {
	for {
		text, err := from.ReadBytes(0)
		if err != nil {
			return
		}
		var m struct {
			ID        int
			SessionID string
			reply
			event
		}
		if json.Unmarshal(text[:len(text)-1], &m) != nil {
			continue
		}
		c.lock.Lock()
		if m.ID > 0 {
			if w := c.waiting[m.ID]; w != nil {
				w <- m.reply
			}
			delete(c.waiting, m.ID)
		} else if b := c.pages[m.SessionID]; b != nil {
			b.events = append(b.events, m.event)
			if m.Method == "Page.javascriptDialogOpening" { // unsaved work is left as it is
				go c.send(m.SessionID, "Page.handleJavaScriptDialog", map[string]any{"accept": true})
			}
			if m.Method == "Page.loadEventFired" {
				select {
				case b.loaded <- struct{}{}:
				default:
				}
			}
		}
		c.lock.Unlock()
	}
}

// send asks the browser for something.
func (c *chromium) send(session, method string, params map[string]any) (<-chan reply, error) {
	c.lock.Lock()
	defer c.lock.Unlock()
	c.last++
	m := map[string]any{"id": c.last, "method": method}
	if params != nil {
		m["params"] = params
	}
	if session != "" {
		m["sessionId"] = session
	}
	text, err := json.Marshal(m)
	if err != nil {
		return nil, err
	}
	answer := make(chan reply, 1)
	c.waiting[c.last] = answer
	_, err = c.to.Write(append(text, 0))
	return answer, err
}

// CDP sends a command and decodes what it gives.
func (b *Browser) CDP(cmd string, params map[string]any, value any) {
	b.t.Helper()
	answer, err := b.c.send(b.session, cmd, params)
	if err != nil {
		b.t.Fatalf("%s: %v", cmd, err)
	}
	select {
	case r := <-answer:
		if r.Error != nil {
			b.t.Fatalf("%s: %s", cmd, r.Error.Message)
		}
		if value == nil {
			return
		}
		if err := json.Unmarshal(r.Result, value); err != nil {
			b.t.Fatalf("%s: %v in %s", cmd, err, r.Result)
		}
	case <-time.After(patience):
		b.t.Fatalf("%s: the browser does not answer", cmd)
	}
}

// taken takes the events of some kinds since the last look.
func (b *Browser) taken(methods ...string) []event {
	b.c.lock.Lock()
	defer b.c.lock.Unlock()
	var out, rest []event
	for _, e := range b.events {
		if slices.Contains(methods, e.Method) {
			out = append(out, e)
		} else {
			rest = append(rest, e)
		}
	}
	b.events = rest
	return out
}

// Screen sets the width in CSS pixels and the colour scheme.
func (b *Browser) Screen(width int, scheme string) {
	b.t.Helper()
	b.CDP("Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false}, nil)
	if b.scheme != scheme { // all styles are computed anew
		b.CDP("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": scheme}}}, nil)
	}
	b.scheme = scheme
}

// Open goes to an address and waits until it has loaded.
func (b *Browser) Open(url string) {
	b.t.Helper()
	select {
	case <-b.loaded: // of an earlier page
	default:
	}
	var went struct{ ErrorText string }
	b.CDP("Page.navigate", map[string]any{"url": url}, &went)
	if went.ErrorText != "" {
		b.t.Fatalf("%s: %s", url, went.ErrorText)
	}
	select {
	case <-b.loaded:
	case <-time.After(patience):
		b.t.Fatalf("%s does not load", url)
	}
}

// Show puts a page's text in the place of the one that was opened: as loading it would, without a process and a checker of its own.
func (b *Browser) Show(html string) {
	b.t.Helper()
	var tree struct {
		FrameTree struct{ Frame struct{ ID string } }
	}
	b.CDP("Page.getFrameTree", nil, &tree)
	b.CDP("Page.setDocumentContent", map[string]any{"frameId": tree.FrameTree.Frame.ID, "html": html}, nil)
}

// Run executes a script in the page and decodes what it returns; a promise is waited for.
func (b *Browser) Run(script string, value any) {
	b.t.Helper()
	var r struct {
		Result struct {
			Value json.RawMessage
		}
		ExceptionDetails *struct {
			Text      string
			Exception struct{ Description string }
		}
	}
	b.CDP("Runtime.evaluate", map[string]any{"expression": "(async () => {" + script + "\n})()", "returnByValue": true, "awaitPromise": true, "userGesture": true}, &r)
	if e := r.ExceptionDetails; e != nil {
		b.t.Fatalf("%s %s in %.200s", e.Text, e.Exception.Description, script)
	}
	if value == nil || len(r.Result.Value) == 0 {
		return
	}
	if err := json.Unmarshal(r.Result.Value, value); err != nil {
		b.t.Fatalf("%v in %s", err, r.Result.Value)
	}
}

// Until waits for a script to return what counts as true.
func (b *Browser) Until(script string) {
	b.t.Helper()
	for end := time.Now().Add(patience / 2); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		var ok bool
		if b.Run("return !!await (async () => {"+script+"\n})()", &ok); ok {
			return
		}
	}
	b.t.Errorf("waited in vain for %s", script)
}

// Type puts text in at the place that has the focus, as a keyboard does.
func (b *Browser) Type(text string) {
	b.t.Helper()
	b.CDP("Input.insertText", map[string]any{"text": text}, nil)
}

// Key presses a key by its name, such as "Tab", "Enter" or "z"; held are 2 for control, 8 for shift, added up.
func (b *Browser) Key(key string, held int) {
	b.t.Helper()
	p := map[string]any{"key": key, "code": key, "modifiers": held, "windowsVirtualKeyCode": map[string]int{"Tab": 9, "Enter": 13, "Escape": 27, " ": 32}[key]}
	switch {
	case key == "Enter":
		p["text"] = "\r"
	case len(key) == 1:
		p["windowsVirtualKeyCode"] = int(strings.ToUpper(key)[0])
		if p["code"] = "Key" + strings.ToUpper(key); held&2 == 0 {
			p["text"] = key
		}
	}
	p["type"] = "keyDown"
	b.CDP("Input.dispatchKeyEvent", p, nil)
	delete(p, "text")
	p["type"] = "keyUp"
	b.CDP("Input.dispatchKeyEvent", p, nil)
}

// Choose gives files to the file field that a selector names.
func (b *Browser) Choose(selector string, files ...string) {
	b.t.Helper()
	var doc struct{ Root struct{ NodeID int } }
	b.CDP("DOM.getDocument", map[string]any{}, &doc)
	var node struct{ NodeID int }
	b.CDP("DOM.querySelector", map[string]any{"nodeId": doc.Root.NodeID, "selector": selector}, &node)
	b.CDP("DOM.setFileInputFiles", map[string]any{"nodeId": node.NodeID, "files": files}, nil)
}

// LogEntry is a line of the console.
type LogEntry struct{ Level, Message string }

// Log takes what the page has complained about since the last look.
func (b *Browser) Log() []LogEntry {
	b.t.Helper()
	var out []LogEntry
	for _, e := range b.taken("Log.entryAdded", "Runtime.exceptionThrown") {
		var m struct {
			Entry            struct{ Level, Text, URL string }
			ExceptionDetails struct {
				Text      string
				Exception struct{ Description string }
			}
		}
		if err := json.Unmarshal(e.Params, &m); err != nil {
			b.t.Fatal(err)
		}
		if e.Method == "Runtime.exceptionThrown" {
			out = append(out, LogEntry{"error", m.ExceptionDetails.Text + " " + m.ExceptionDetails.Exception.Description})
			continue
		}
		out = append(out, LogEntry{m.Entry.Level, m.Entry.Text + " " + m.Entry.URL})
	}
	return out
}

// Asked lists what a page has asked the network for, itself and data in it left out.
func (b *Browser) Asked(page string) []string {
	b.t.Helper()
	var out []string
	for _, e := range b.taken("Network.requestWillBeSent") {
		var m struct {
			DocumentURL string
			Request     struct{ URL string }
		}
		if err := json.Unmarshal(e.Params, &m); err != nil {
			b.t.Fatal(err)
		}
		url := m.Request.URL
		if strings.HasPrefix(m.DocumentURL, page) && url != page && !strings.HasPrefix(url, "data:") {
			out = append(out, url)
		}
	}
	return out
}

// Picture takes the whole page as it looks now.
func (b *Browser) Picture(file string) {
	b.t.Helper()
	var shot struct{ Data string }
	b.CDP("Page.captureScreenshot", map[string]any{"captureBeyondViewport": true, "format": "png"}, &shot)
	b.save(file, shot.Data)
}

func (b *Browser) save(file, data string) []byte {
	b.t.Helper()
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		b.t.Fatal(err)
	}
	if file != "" {
		if err := os.WriteFile(file, raw, 0o644); err != nil {
			b.t.Fatal(err)
		}
	}
	return raw
}

package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/serve/notices"
	"padjig/fixture/jigsim"
	"padjig/fixture/simport"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/store"
	"padjig/sequence/product"
)

// The tests of the pages: a station as it is started at a line, with simulated
// jigs on real pseudo-terminals and a real store, looked at with a real browser.
// Nothing sleeps: a test waits for what the page shows. Those that see the middle of
// a unit or of a time-out keep real time, and run alone; the others run beside each
// other.

// The sizes of a touch station, a smaller screen, and a phone.
var sizes = map[string][2]int64{"station": {1280, 800}, "small": {1024, 768}, "phone": {390, 844}, "laptop": {1366, 768}, "big": {1920, 1080}}

// glance is how often a page is asked again. Asking at each picture would never
// happen on a page that lies behind another.
const glance = 15 * time.Millisecond

// patience is how long a page may take to show what a test waits for: it ends a
// test that has gone wrong and asserts no speed, on a machine that does twenty other things too.
const patience = 3 * time.Minute

// scanAgain is when somebody whose scan has had no effect scans again.
const scanAgain = 5 * time.Second

// lifetime is how long a page may be used: it ends a test whose browser no
// longer answers, instead of all tests at their common time-out.
const lifetime = 20 * time.Minute

// browserNames are what the browser may be called; Debian's package is the first.
var browserNames = []string{"chromium-headless-shell", "headless-shell", "chrome-headless-shell", "chromium", "google-chrome"}

func browserPath(t testing.TB) string {
	for _, name := range browserNames {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Fatalf("no browser found, none of %s; make tools installs chromium-headless-shell", strings.Join(browserNames, ", "))
	return ""
}

// theBrowser is one for all tests of the package; each page of a test lies in a
// browser profile of its own.
var theBrowser struct {
	once sync.Once
	ctx  context.Context
	err  error
	end  func()
}

func browser(t testing.TB) context.Context {
	t.Helper()
	path := browserPath(t)
	theBrowser.once.Do(func() {
		options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
			chromedp.Flag("disable-dev-shm-usage", true))
		allocator, endAllocator := chromedp.NewExecAllocator(context.Background(), options...)
		ctx, endBrowser := chromedp.NewContext(allocator)
		theBrowser.ctx, theBrowser.end = ctx, func() { endBrowser(); endAllocator() }
		_, theBrowser.err = chromedp.Run(ctx, chromedp.Navigate("about:blank"))
	})
	require.NoError(t, theBrowser.err, "start %s", path)
	return theBrowser.ctx
}

// bed is a station under test.
type bed struct {
	testing.TB
	dir     string
	file    string // the product's
	product *product.Product
	store   *results.Store
	jigs    []*testJig
	options stationOptions
	address string // where the pages are
	badges  map[account.Role]string
	stop    func() // of the station, not of the jigs

	lanes     func() *served
	publishes *notices.Office // of an office
}

// bedding says how a bed differs from the usual one.
type bedding struct {
	jigs    int    // 0: one
	product string // file below testdata/products; gcc-20.yaml
	pace    bool   // jigs take the time real ones take
	slow    bool   // slow actuators besides, so that a busy machine sees the middle of a unit
	hand    bool   // jigs without actuators
	line    bool   // the records of a simulated line besides, see lineRecords
	change  func(*stationOptions)
	recipe  func(text string) string // changes the product file
}

// makeBed starts jigs and a station and makes an account of each role.
func makeBed(t testing.TB, with bedding) *bed {
	t.Helper()
	b := &bed{TB: t, dir: t.TempDir(), badges: map[account.Role]string{}}
	b.file = filepath.Join(b.dir, "product.yaml")
	if with.product == "" {
		with.product = "gcc-20.yaml"
	}
	text, err := os.ReadFile("../../testdata/products/" + with.product)
	require.NoError(t, err)
	if with.recipe != nil {
		text = []byte(with.recipe(string(text)))
	}
	require.NoError(t, os.WriteFile(b.file, text, 0o644))
	b.product, err = product.Load(b.file)
	require.NoError(t, err)
	path := filepath.Join(b.dir, "records.sqlite")
	if with.line {
		content, err := lineRecords()
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, content, 0o644))
	}
	records := store.Real()
	records.Ballast = 1 << 10 // 64 MiB are written for each bed otherwise
	b.store, err = results.OpenWith(t.Context(), path, records)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, b.store.Close()) })
	b.accounts()
	b.options = stationOptions{Products: []string{b.file}, Listen: b.freeAddress(), Lock: time.Hour, Leave: time.Hour, Ports: b.ports}
	var lay []func(serial string) // what a right operator does at each jig
	b.options.Load = func(lane int, serial string) { lay[lane](serial) }
	for i := range max(with.jigs, 1) {
		jig := b.newJig(fmt.Sprintf("SIM-%04d", i+1), filepath.Join(b.dir, fmt.Sprintf("jig%d", i)), with)
		b.jigs = append(b.jigs, jig)
		lay = append(lay, simport.Operator(func() *jigsim.Jig { return jig.jig }))
		b.options.Jigs = append(b.options.Jigs, jig.port)
	}
	if with.change != nil {
		with.change(&b.options)
	}
	b.start()
	return b
}

// ports are those of the bed's jigs that are plugged in.
func (b *bed) ports() []string {
	paths, err := filepath.Glob(b.portPattern())
	assert.NoError(b, err)
	return paths
}

func (b *bed) portPattern() string { return filepath.Join(b.dir, "jig*") }

func (b *bed) freeAddress() string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	defer l.Close()
	return l.Addr().String()
}

// accounts makes one of each role, all with a badge, and the engineer's with a
// password too.
func (b *bed) accounts() {
	hash, err := engineersHash()
	require.NoError(b, err)
	for _, role := range account.Roles {
		code := account.NewBadge()
		b.badges[role] = code
		for _, e := range []accounts.AccountEvent{
			{Kind: accounts.AccountRole, Role: string(role)},
			{Kind: accounts.AccountBadge, Secret: account.HashBadge(code)},
			{Kind: accounts.AccountPassword, Secret: hash},
		} {
			e.Name, e.By = names[role], "test"
			require.NoError(b, b.store.Accounts.SaveAccountEvent(b.Context(), e))
		}
	}
}

const engineersPassword = "tomatoes at noon"

// engineersHash takes as long as a guess shall: one does for all beds.
var engineersHash = sync.OnceValues(func() (string, error) { return account.HashPassword(engineersPassword) })

var names = map[account.Role]string{
	account.Operator: "Abel", account.Quality: "Qiu", account.Returns: "Rosa", account.Engineer: "Ines",
}

// start starts the station; with stop it can be done again.
func (b *bed) start() {
	ctx, cancel := context.WithCancel(context.Background())
	cmd := &cobra.Command{}
	cmd.SetContext(ctx)
	s, err := b.options.Build(cmd, b.store)
	require.NoError(b, err)
	listener, err := b.options.Hear(ctx, b.store)
	require.NoError(b, err)
	over, ready := make(chan error, 1), make(chan string, 1)
	go func() { over <- s.Serve(ctx, listener, func(address string) { ready <- address }) }()
	b.address = <-ready
	b.lanes = func() *served { return s }
	var once sync.Once
	b.stop = func() {
		once.Do(func() {
			cancel()
			assert.NoError(b, <-over)
		})
	}
	b.Cleanup(b.stop)
}

// testJig is a simulated jig in this process, on a pseudo-terminal.
type testJig struct {
	testing.TB
	*simulation
	jig     *jigsim.Jig
	product *product.Product
	port    string
	unplug  func()
}

func (b *bed) newJig(name, port string, with bedding) *testJig {
	// Two jigs have pads of their own, or one lane's units read like those of the other, and the line rightly stops.
	j := &testJig{TB: b.TB, simulation: &simulation{Serial: name, Seed: uint64(1 + 1_000_000*len(b.jigs)), Pace: with.pace, NoActuators: with.hand},
		product: b.product, port: port}
	if with.slow {
		j.Travel = 120 * time.Millisecond // latency would not do: it is hidden behind what is queued
	}
	var err error
	j.jig, err = j.Build(b.product)
	require.NoError(b, err)
	j.plug()
	b.Cleanup(func() { j.unplug() })
	return j
}

// plug puts the jig on its port; unplug takes it away, as when a plug is pulled.
func (j *testJig) plug() {
	port, err := openPseudo(j.port)
	require.NoError(j, err)
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan struct{})
	go func() {
		defer close(over)
		_ = j.jig.Serve(ctx, port) // it ends when the port does
	}()
	var once sync.Once
	j.unplug = func() {
		once.Do(func() {
			cancel()
			<-over
			_ = port.Close() // Serve may have closed it
		})
	}
}

// put puts a unit with these faults into the jig.
func (j *testJig) put(faults string) {
	j.Seed++
	require.NoError(j, j.Load(j.product, j.jig, faults))
}

// tab is a page in a browser profile of its own.
type tab struct {
	testing.TB
	bed  *bed
	ctx  context.Context
	size string
}

// look opens a page in a new browser profile, with nobody logged in.
func (b *bed) look(size, path string) *tab {
	b.Helper()
	ctx, cancel := chromedp.NewContext(browser(b.TB), chromedp.WithNewBrowserContext())
	b.Cleanup(cancel)
	long := time.Duration(lifetime)
	if *screens != "" {
		long *= 5 // pictures take their time
	}
	ctx, end := context.WithTimeout(ctx, long)
	b.Cleanup(end)
	t := &tab{TB: b.TB, bed: b, ctx: ctx}
	t.holdable()
	t.resize(size)
	t.visit(path)
	return t
}

func (t *tab) resize(size string) {
	t.Helper()
	t.size = size
	s := sizes[size]
	if size == "phone" {
		t.run(chromedp.EmulateViewport(s[0], s[1], chromedp.EmulateMobile, chromedp.EmulateTouch))
		return
	}
	t.run(chromedp.EmulateViewport(s[0], s[1]))
}

// as opens a page for somebody who scans their badge first.
func (b *bed) as(role account.Role, size, path string) *tab {
	b.Helper()
	t := b.look(size, "/door?next="+path)
	there := fmt.Sprintf("location.pathname + location.search === %q && document.readyState === 'complete'", path)
	// A machine that is busy with other tests may send keys too slowly for a
	// scanner; a person then scans again.
	for range 3 {
		if t.scan(b.badges[role]); t.comes(there, scanAgain) || !t.comes("location.pathname === '/door'", glance*10) {
			break
		}
	}
	t.await(there)
	t.ready()
	return t
}

// comes reports whether an expression in the page becomes true in time; a page
// that goes away meanwhile does not matter.
func (t *tab) comes(expression string, within time.Duration) bool {
	for end := time.Now().Add(within); time.Now().Before(end) && t.ctx.Err() == nil; {
		if _, err := chromedp.Run(t.ctx, chromedp.Poll[bool]("Boolean("+expression+")",
			chromedp.WithPollingInterval(glance), chromedp.WithPollingTimeout(time.Until(end)))); err == nil {
			return true
		}
	}
	return false
}

// focus puts the keyboard's focus on an element as soon as it is there. The
// library's own way follows the page's nodes by events, and was seen to wait for
// one that had come and gone.
func (t *tab) focus(selector string) {
	t.Helper()
	t.await(fmt.Sprintf("document.querySelector(%q)", selector))
	t.eval(fmt.Sprintf("document.querySelector(%q).focus()", selector))
}

func (t *tab) run(actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	for _, a := range actions {
		_, err := chromedp.Run(t.ctx, a)
		require.NoError(t, err)
	}
}

// visit goes to a page and waits until its scripts run.
func (t *tab) visit(path string) {
	t.Helper()
	to := chromedp.Navigate(strings.TrimSuffix(t.bed.address, "/") + path)
	_, err := chromedp.Run(t.ctx, to)
	if err != nil && strings.Contains(err.Error(), "net::ERR_ABORTED") { // the page was on its own way elsewhere
		_, err = chromedp.Run(t.ctx, to)
	}
	require.NoError(t, err)
	t.ready()
}

// ready waits until the page listens, and until its stream is open if it has one.
func (t *tab) ready() {
	t.Helper()
	t.await("globalThis.padjigLags && (!document.querySelector('[data-live]') || document.body.dataset.live === 'on')")
}

// await waits until an expression in the page is true, also across pages: a
// page that goes away takes the question with it, and it is put again.
func (t *tab) await(expression string) {
	t.Helper()
	for end := time.Now().Add(patience); ; {
		_, err := chromedp.Run(t.ctx, chromedp.Poll[bool]("Boolean("+expression+")",
			chromedp.WithPollingInterval(glance), chromedp.WithPollingTimeout(patience)))
		if err == nil {
			return
		}
		if time.Now().After(end) || t.ctx.Err() != nil {
			require.NoError(t, err, "waiting for %s; the page says: %s", expression, t.text("body"))
		}
	}
}

func (t *tab) eval(expression string) string {
	t.Helper()
	got, err := chromedp.Run(t.ctx, chromedp.Evaluate[string]("String("+expression+")"))
	require.NoError(t, err, expression)
	return got
}

// text is what an element shows.
func (t *tab) text(selector string) string {
	t.Helper()
	return t.eval(fmt.Sprintf("document.querySelector(%q)?.innerText ?? ''", selector))
}

// betweenKeys is how long a scanner takes from key to key.
const betweenKeys = 4 * time.Millisecond

// scan types a text as a scanner does and ends it with Enter. The keys say
// themselves when they were pressed, so that a busy machine scans as fast.
func (t *tab) scan(text string) {
	t.Helper()
	began := time.Now().Add(-betweenKeys * time.Duration(len(text)+1))
	for i, r := range text {
		t.key(began.Add(betweenKeys*time.Duration(i)), input.DispatchKeyEventParams{Key: string(r), Text: string(r)})
	}
	t.key(began.Add(betweenKeys*time.Duration(len(text))), input.DispatchKeyEventParams{
		Key: "Enter", Code: "Enter", Text: "\r", WindowsVirtualKeyCode: 13,
	})
}

// key presses a key and lets go of it.
func (t *tab) key(at time.Time, p input.DispatchKeyEventParams) {
	t.Helper()
	p.Timestamp = input.TimeSinceEpoch(float64(at.UnixMicro()) / 1e6)
	for _, kind := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeKeyDown, input.DispatchKeyEventTypeKeyUp} {
		if p.Type = kind; kind == input.DispatchKeyEventTypeKeyUp {
			p.Text = ""
		}
		t.run(func(ctx context.Context, target *chromedp.Target) (none chromedp.Void, err error) {
			_, err = cdp.Call(ctx, target, input.DispatchKeyEvent, p)
			return none, err
		})
	}
}

func (t *tab) press(text string) {
	t.Helper()
	t.run(chromedp.KeyEvent(text))
}

func (t *tab) enter() { t.press(kb.Enter) }

// shows waits until the lane's page shows a signal for a unit.
func (t *tab) shows(signal, serial string) {
	t.Helper()
	t.await(fmt.Sprintf("document.getElementById('state')?.dataset.signal === %q && document.getElementById('state').dataset.serial === %q", signal, serial))
}

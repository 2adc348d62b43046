package main

import (
	"crypto/sha256"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/sequence"
)

// person is somebody at a browser without a window: what a page has in its
// forms is what the person can send, also when the page is old.
type person struct {
	*bed
	client *http.Client
}

// signedIn is somebody of a role, as if by password.
func (b *bed) signedIn(role account.Role) *person {
	b.Helper()
	token := "token of " + string(role)
	hash := sha256.Sum256([]byte(token))
	if open, err := b.store.Accounts.Session(b.Context(), hash); assert.NoError(b, err) && open == nil {
		require.NoError(b, b.store.Accounts.StartSession(b.Context(), hash, names[role], "password"))
	}
	jar, err := cookiejar.New(nil)
	require.NoError(b, err)
	at, err := url.Parse(b.address)
	require.NoError(b, err)
	jar.SetCookies(at, []*http.Cookie{{Name: "padjig", Value: token, Path: "/"}})
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &person{b, &http.Client{Jar: jar, CheckRedirect: stay}}
}

func (p *person) answer(r *http.Response, err error) (int, string) {
	p.Helper()
	if !assert.NoError(p, err) {
		return 0, ""
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	assert.NoError(p, err)
	return r.StatusCode, string(body)
}

var (
	wholeForm  = regexp.MustCompile(`(?s)<form method="post" action="([^"]*)".*?</form>`)
	namedValue = regexp.MustCompile(`<(?:input|button)[^>]* name="([^"]*)" value="([^"]*)"`)
)

// form is a form of a page as it is now, to be sent whenever.
func (p *person) form(path, action string) url.Values {
	p.Helper()
	status, body := p.answer(p.client.Get(p.address + strings.TrimPrefix(path, "/")))
	require.Equal(p, http.StatusOK, status, body)
	for _, found := range wholeForm.FindAllStringSubmatch(body, -1) {
		if found[1] != action {
			continue
		}
		values := url.Values{}
		for _, field := range namedValue.FindAllStringSubmatch(found[0], -1) {
			values.Set(field[1], field[2])
		}
		return values
	}
	p.Fatalf("no form for %s on %s", action, path)
	return nil
}

func (p *person) send(action string, form url.Values) (int, string) {
	p.Helper()
	return p.answer(p.client.PostForm(p.address+strings.TrimPrefix(action, "/"), form))
}

// awaits waits until a lane stands so.
func (b *bed) awaits(lane *station.Lane, so func(station.State) bool) {
	b.Helper()
	changes, stop := lane.Subscribe()
	defer stop()
	for !so(lane.State()) {
		select {
		case <-changes:
		case <-b.Context().Done():
			b.Fatal("the lane never stood so")
		}
	}
}

func ready(s station.State) bool { return s.Jig.Present && s.Phase == station.Ready }
func free(s station.State) bool  { return !s.Jig.Present && s.Jig.Why != nil }

const letGo = "/jigs/1/letgo"

// tests holds that the lane is alive: it tests a unit.
func (p *person) tests(serial string) {
	p.Helper()
	lane := p.lanes().Lanes[0]
	lane.Scan(station.Scan{Serial: serial, Operator: "Abel"})
	p.awaits(lane, func(s station.State) bool { return s.Unit.Serial == serial && !s.Phase.Busy() })
	s := lane.State()
	if assert.Equal(p, station.Ended, s.Phase, "%v", s.Refusal) {
		assert.Equal(p, sequence.Pass, s.Verdict.Outcome)
	}
	assert.True(p, s.Jig.Present)
}

// "Take the jig back" on a page that is no longer true does nothing and says so,
// whatever the lane does meanwhile.
func TestTakeBackFromAStalePage(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	ines, lane := b.signedIn(account.Engineer), b.lanes().Lanes[0]
	b.awaits(lane, ready)

	status, _ := ines.send(letGo, ines.form("/jigs/1", letGo))
	require.Equal(t, http.StatusSeeOther, status)
	b.awaits(lane, free)
	back := ines.form("/jigs/1", letGo)
	require.Equal(t, "yes", back.Get("back"))

	// Two browsers at once: one takes it back, the other is told.
	var both sync.WaitGroup
	var took [2]int
	for i := range took {
		both.Go(func() { took[i], _ = ines.send(letGo, back) })
	}
	both.Wait()
	assert.ElementsMatch(t, []int{http.StatusSeeOther, http.StatusConflict}, took[:])
	b.awaits(lane, ready)

	// Again later.
	status, body := ines.send(letGo, back)
	assert.Equal(t, http.StatusConflict, status)
	assert.Contains(t, body, "Nothing was done")
	assert.True(t, ready(lane.State()), "nothing changed")
	ines.tests(b.product.Serial.Complete(1))

	// Somebody has let go of it anew: theirs is not taken away from them.
	status, _ = ines.send(letGo, ines.form("/jigs/1", letGo))
	require.Equal(t, http.StatusSeeOther, status)
	status, _ = ines.send(letGo, back)
	assert.Equal(t, http.StatusConflict, status)
	assert.True(t, free(lane.State()))
	now := ines.form("/jigs/1", letGo)

	// After a restart nothing is let go of.
	b.stop()
	b.start()
	lane = b.lanes().Lanes[0]
	b.awaits(lane, ready)
	for _, old := range []url.Values{back, now} {
		status, _ = ines.send(letGo, old)
		assert.Equal(t, http.StatusConflict, status)
	}
	ines.tests(b.product.Serial.Complete(2))
}

// During a test the old button takes neither jig nor unit away.
func TestTakeBackWhileATestRuns(t *testing.T) {
	b := makeBed(t, bedding{pace: true, slow: true})
	ines, lane := b.signedIn(account.Engineer), b.lanes().Lanes[0]
	b.awaits(lane, ready)
	back := ines.form("/jigs/1", letGo)
	back.Set("back", "yes")
	back.Set("since", "1")
	serial := b.product.Serial.Complete(1)
	lane.Scan(station.Scan{Serial: serial, Operator: "Abel"})
	b.awaits(lane, func(s station.State) bool { return s.Phase == station.Running && s.Done > 0 })
	status, _ := ines.send(letGo, back)
	assert.Equal(t, http.StatusConflict, status)
	assert.True(t, lane.State().Jig.Present, "the jig is in the lane's hands")
	b.awaits(lane, func(s station.State) bool { return s.Phase == station.Ended })
	assert.True(t, lane.State().Jig.Present)
	ines.tests(b.product.Serial.Complete(2))
}

// Who lets go during a test and has it taken back before its end is not left
// waiting, and the lane keeps the jig.
func TestLetGoTakenBackBeforeTheTestEnds(t *testing.T) {
	b := makeBed(t, bedding{pace: true, slow: true})
	ines, lane := b.signedIn(account.Engineer), b.lanes().Lanes[0]
	b.awaits(lane, ready)
	ask := ines.form("/jigs/1", letGo)
	lane.Scan(station.Scan{Serial: b.product.Serial.Complete(1), Operator: "Abel"})
	b.awaits(lane, func(s station.State) bool { return s.Phase == station.Running })
	var waiting sync.WaitGroup
	waiting.Go(func() {
		status, _ := ines.send(letGo, ask)
		assert.Equal(t, http.StatusSeeOther, status)
	})
	b.awaits(lane, func(s station.State) bool { return !s.LetGo.IsZero() })
	back := ines.form("/jigs/1", letGo)
	require.Equal(t, "yes", back.Get("back"), "what was asked for can be taken back at once")
	status, _ := ines.send(letGo, back)
	assert.Equal(t, http.StatusSeeOther, status)
	waiting.Wait()
	b.awaits(lane, func(s station.State) bool { return s.Phase == station.Ended })
	ines.tests(b.product.Serial.Complete(2))
}

// A jig that is let go of twice is taken back once, and stays.
func TestLetGoTwice(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{})
	lane := b.lanes().Lanes[0]
	b.awaits(lane, ready)
	lane.LetGo(t.Context())
	lane.LetGo(t.Context())
	lost := 0
	changes, stop := lane.Subscribe()
	defer stop()
	require.NoError(t, lane.TakeBack(lane.State().LetGo))
	b.awaits(lane, ready)
	lane.Scan(station.Scan{Serial: b.product.Serial.Complete(1), Operator: "Abel"})
	for s := lane.State(); s.Phase != station.Ended; s = lane.State() {
		<-changes
		if !lane.State().Jig.Present {
			lost++
		}
	}
	assert.Zero(t, lost, "the jig went away again")
}

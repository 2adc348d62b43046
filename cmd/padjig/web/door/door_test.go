package door_test

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/account/signin"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results"
	"padjig/results/accounts"
)

const inesPassword = "tomatoes at noon"

// doorOf is a site at which Ines has a password and a badge and Abel a badge,
// in fake time.
func doorOf(t *testing.T) (ask func(webtest.Ask) int, store *results.Store, badges map[string]string) {
	t.Helper()
	h, _, store := webtest.Door(t)
	// A hash says what it costs; a cheap one lets many guesses be tried.
	salt, text := []byte("salt of the test"), base64.RawStdEncoding.EncodeToString
	hash := fmt.Sprintf("$argon2id$v=%d$m=64,t=1,p=1$%s$%s", argon2.Version, text(salt),
		text(argon2.IDKey([]byte(inesPassword), salt, 1, 64, 1, 32)))
	badges = map[string]string{"Ines": account.NewBadge(), "Abel": account.NewBadge()}
	for name, badge := range badges {
		for _, e := range []accounts.AccountEvent{
			{Kind: accounts.AccountRole, Role: "engineer"}, {Kind: accounts.AccountBadge, Secret: account.HashBadge(badge)},
			{Kind: accounts.AccountPassword, Secret: hash},
		} {
			e.Name, e.By = name, "test"
			require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), e))
		}
	}
	ask = func(a webtest.Ask) int { return webtest.Fetch(t, h, a).Code }
	return ask, store, badges
}

func byPassword(from, name, password string) webtest.Ask {
	return webtest.Ask{Method: http.MethodPost, Path: "/door", From: from, Form: url.Values{"name": {name}, "password": {password}}}
}

func byBadge(from, code string) webtest.Ask {
	return webtest.Ask{Method: http.MethodPost, Path: "/scan", From: from, Form: url.Values{"text": {code}}}
}

const (
	signedIn = http.StatusSeeOther
	isWrong  = http.StatusForbidden
	tooMany  = http.StatusTooManyRequests
)

// Badges that nobody has, or that were misread, lock no other badge: neither
// where they were scanned nor anywhere else.
func TestMisreadBadgesLockNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, _, badges := doorOf(t)
		for i := range 150 {
			status := ask(byBadge(door.Stranger, account.NewBadge()))
			if i < 5 {
				assert.Equal(t, isWrong, status)
			}
		}
		for _, at := range []string{door.Stranger, door.AtLine, door.AtStation} {
			assert.Equal(t, signedIn, ask(byBadge(at, badges["Abel"])), at)
			assert.Equal(t, signedIn, ask(byBadge(at, badges["Ines"])), at)
		}
		assert.Equal(t, isWrong, ask(byBadge(door.AtLine, account.NewBadge())), "another address is told of its own slip")
		assert.Equal(t, signedIn, ask(byPassword(door.AtLine, "Ines", inesPassword)))
		assert.Equal(t, signedIn, ask(byPassword(door.AtStation, "Ines", inesPassword)))
	})
}

// Of many guesses sent at once no more are looked at than of as many sent one
// after another.
func TestParallelGuesses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, _, _ := doorOf(t)
		count := func(a func(i int) webtest.Ask) map[int]int {
			var mu sync.Mutex
			var all sync.WaitGroup
			got := map[int]int{}
			for i := range 60 {
				all.Go(func() {
					status := ask(a(i))
					mu.Lock()
					defer mu.Unlock()
					got[status]++
				})
			}
			all.Wait()
			return got
		}
		same := count(func(i int) webtest.Ask {
			return byPassword(door.Stranger, "Ines", fmt.Sprintf("cucumber number %d", i))
		})
		assert.Equal(t, map[int]int{isWrong: signin.GuessesAtAccount, tooMany: 60 - signin.GuessesAtAccount}, same)
		assert.Equal(t, tooMany, ask(byPassword(door.Stranger, "Ines", inesPassword)), "the right one is not looked at either")
		time.Sleep(time.Minute)
		names := count(func(i int) webtest.Ask { return byPassword(door.Stranger, fmt.Sprintf("Somebody %d", i), "cucumber") })
		assert.Equal(t, map[int]int{isWrong: signin.GuessesFromAddress, tooMany: 60 - signin.GuessesFromAddress}, names, "many names from one address")
		time.Sleep(time.Minute)
		assert.Equal(t, signedIn, ask(byPassword(door.Stranger, "Ines", inesPassword)), "never locked out for good")
	})
}

// A stranger who guesses as hard as they can locks nobody out at the station, nor
// where somebody has been before.
func TestStrangersLockNobodyOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, _, _ := doorOf(t)
		require.Equal(t, signedIn, ask(byPassword(door.AtLine, "Ines", inesPassword)))
		time.Sleep(time.Hour)
		refused := 0
		for host := range 12 { // and with twelve addresses
			for i := range signin.GuessesAtAccount + 1 {
				if ask(byPassword(fmt.Sprintf("198.51.100.%d:5000", host), "Ines", fmt.Sprint("cucumber ", i))) == tooMany {
					refused++
				}
			}
		}
		assert.Equal(t, 12*(signin.GuessesAtAccount+1)-signin.GuessesOfStrangers, refused, "strangers share an allowance on one account")
		assert.Equal(t, signedIn, ask(byPassword(door.AtStation, "Ines", inesPassword)))
		assert.Equal(t, signedIn, ask(byPassword(door.AtLine, "Ines", inesPassword)))
		assert.Equal(t, signedIn, ask(byPassword(door.Stranger, "Abel", inesPassword)), "another account is not concerned")
	})
}

// Who has mistyped a few times and is then right begins anew; others' tries from
// there still count.
func TestRightAfterWrong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, _, _ := doorOf(t)
		for range 3 {
			for range signin.GuessesAtAccount - 1 {
				assert.Equal(t, isWrong, ask(byPassword(door.AtLine, "Ines", "tomatoes at midnight")))
			}
			assert.Equal(t, signedIn, ask(byPassword(door.AtLine, "Ines", inesPassword)))
		}
	})
}

// Whether there is an account of a name cannot be seen from how guesses at it
// are counted.
func TestNamesAreNotToldApart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, _, _ := doorOf(t)
		for range signin.GuessesAtAccount + 2 {
			assert.Equal(t, ask(byPassword(door.AtLine, "Ines", "cucumber")), ask(byPassword(door.Stranger, "Nobody", "cucumber")))
		}
	})
}

// What a header claims of where a request comes from counts for nothing.
func TestForwardedHeadersCountForNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, _, _ := doorOf(t)
		got := map[int]int{}
		for i := range 10 {
			a := byPassword(door.Stranger, "Ines", "cucumber")
			a.Header = map[string]string{"X-Forwarded-For": fmt.Sprintf("192.0.2.%d", i), "Forwarded": "for=127.0.0.1", "X-Real-Ip": "127.0.0.1"}
			got[ask(a)]++
		}
		assert.Equal(t, map[int]int{isWrong: signin.GuessesAtAccount, tooMany: 10 - signin.GuessesAtAccount}, got)
	})
}

// Every try is on record: when, who if there is such an account, from where, how;
// and nothing of what was typed.
func TestSignInsAreRecorded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ask, store, badges := doorOf(t)
		ask(byPassword(door.Stranger, "Ines", "my secret cucumber"))
		ask(byPassword(door.Stranger, "my secret cucumber", ""))
		misread := account.NewBadge()
		ask(byBadge(door.AtLine, misread))
		ask(byBadge(door.AtLine, badges["Abel"]))
		ask(byPassword(door.AtStation, "Ines", inesPassword))
		for range 20 {
			ask(byPassword(door.Stranger, "Ines", "my secret cucumber"))
		}
		list, err := store.SignIns.Last(t.Context(), 100)
		require.NoError(t, err)
		var short []string
		for _, e := range list {
			assert.False(t, e.At.IsZero())
			short = append(short, fmt.Sprintf("%s|%s|%s|%s", e.Name, e.Address, e.How, e.Outcome))
		}
		wrong := "Ines|198.51.100.66|password|wrong"
		assert.Equal(t, []string{
			"Ines|198.51.100.66|password|too many", wrong, wrong, wrong, wrong, // a row when it begins, not for each
			"Ines|127.0.0.1|password|in",
			"Abel|192.0.2.7|badge|in",
			"|192.0.2.7|badge|wrong",
			"|198.51.100.66|password|wrong",
			wrong,
		}, short)
		text := strings.Join(short, "\n")
		assert.NotContains(t, text, "cucumber")
		assert.NotContains(t, text, misread)
	})
}

// A session that was left alone, or is a shift old, is over, for good.
func TestSessionsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, _, _ := webtest.Door(t)
		ask := func(role string) int { return webtest.Fetch(t, h, webtest.Ask{Path: "/products", Role: role}).Code }
		assert.Equal(t, 200, ask("engineer"))
		for range 11 {
			time.Sleep(59 * time.Minute)
			assert.Equal(t, 200, ask("engineer"))
		}
		time.Sleep(61 * time.Minute)
		assert.Equal(t, 303, ask("engineer"), "left alone")
		assert.Equal(t, 303, ask("engineer"))
		time.Sleep(time.Hour)
		assert.Equal(t, 303, ask("quality"), "a shift old, though nobody used it before")
	})
}

// Over TLS the cookie is one that no page without it can set or see, and browsers
// are told to stay with it.
func TestSecureStation(t *testing.T) {
	_, _, store := webtest.Door(t)
	badge := account.NewBadge()
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{
		Name: "engineer", Kind: accounts.AccountBadge, Secret: account.HashBadge(badge), By: "test",
	}))
	secure, err := web.New(web.Config{Store: store, Hosts: []string{webtest.OurHost}, LockAfter: time.Hour, Secure: true})
	require.NoError(t, err)
	h := secure.Handler()
	w := webtest.Fetch(t, h, byBadge(door.AtStation, badge))
	assert.NotEmpty(t, w.Header().Get("Strict-Transport-Security"))
	require.Len(t, w.Result().Cookies(), 1)
	cookie := w.Result().Cookies()[0]
	assert.Equal(t, "__Host-padjig", cookie.Name)
	assert.True(t, cookie.Secure && cookie.HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, cookie.SameSite)
	w = webtest.Fetch(t, h, webtest.Ask{Path: "/jigs", Header: map[string]string{"Cookie": "__Host-padjig=" + cookie.Value}})
	assert.Equal(t, 200, w.Code)
	w = webtest.Fetch(t, h, webtest.Ask{Path: "/jigs", Header: map[string]string{"Cookie": "padjig=" + cookie.Value}})
	assert.Equal(t, 303, w.Code, "the name that anybody may set")
}

// A language that was chosen stays, one that is none is the usual one.
func TestLanguageIsKept(t *testing.T) {
	h, _, _ := webtest.Door(t)
	for given, want := range map[string]string{"de": "de", "en": "en", "xx": "en", "": "en"} {
		w := webtest.Fetch(t, h, webtest.Ask{Method: http.MethodPost, Path: "/language", Form: url.Values{"language": {given}, "next": {"/codes"}}})
		assert.Equal(t, "/codes", w.Header().Get("Location"))
		require.Len(t, w.Result().Cookies(), 1)
		assert.Equal(t, want, w.Result().Cookies()[0].Value)
		w = webtest.Fetch(t, h, webtest.Ask{Path: "/door", Header: map[string]string{"Cookie": "language=" + given, "Accept-Language": "de"}})
		assert.Contains(t, w.Body.String(), `lang="`+want+`"`)
	}
}

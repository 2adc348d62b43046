package web

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"

	"padjig/cmd/padjig/account"
	"padjig/results/accounts"
)

// Where people sit: at the station itself, at a line, and somewhere else.
const (
	atStation = "127.0.0.1:40001"
	atLine    = "192.0.2.7:40002"
	stranger  = "198.51.100.66:40003"
)

const inesPassword = "tomatoes at noon"

// doorOf is a site at which Ines has a password and a badge and Abel a badge,
// and its clock.
func doorOf(t *testing.T) (ask func(asking) int, site *Site, badges map[string]string, pass func(time.Duration)) {
	t.Helper()
	h, site := door(t)
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
			require.NoError(t, site.Store.Accounts.SaveAccountEvent(t.Context(), e))
		}
	}
	now := time.Date(2026, 11, 29, 6, 0, 0, 0, time.UTC)
	site.clock = func() time.Time { return now }
	ask = func(a asking) int { return fetch(t, h, a).Code }
	return ask, site, badges, func(d time.Duration) { now = now.Add(d) }
}

func byPassword(from, name, password string) asking {
	return asking{method: http.MethodPost, path: "/door", from: from, form: url.Values{"name": {name}, "password": {password}}}
}

func byBadge(from, code string) asking {
	return asking{method: http.MethodPost, path: "/scan", from: from, form: url.Values{"text": {code}}}
}

const (
	letIn   = http.StatusSeeOther
	isWrong = http.StatusForbidden
	tooMany = http.StatusTooManyRequests
)

// Badges that nobody has, or that were misread, lock no other badge: neither
// where they were scanned nor anywhere else.
func TestMisreadBadgesLockNobody(t *testing.T) {
	ask, _, badges, _ := doorOf(t)
	for i := range 150 {
		status := ask(byBadge(stranger, account.NewBadge()))
		if i < 5 {
			assert.Equal(t, isWrong, status)
		}
	}
	for _, at := range []string{stranger, atLine, atStation} {
		assert.Equal(t, letIn, ask(byBadge(at, badges["Abel"])), at)
		assert.Equal(t, letIn, ask(byBadge(at, badges["Ines"])), at)
	}
	assert.Equal(t, isWrong, ask(byBadge(atLine, account.NewBadge())), "another address is told of its own slip")
	assert.Equal(t, letIn, ask(byPassword(atLine, "Ines", inesPassword)))
	assert.Equal(t, letIn, ask(byPassword(atStation, "Ines", inesPassword)))
}

// Of many guesses sent at once no more are looked at than of as many sent one
// after another.
func TestParallelGuesses(t *testing.T) {
	ask, _, _, pass := doorOf(t)
	count := func(a func(i int) asking) map[int]int {
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
	same := count(func(i int) asking { return byPassword(stranger, "Ines", fmt.Sprintf("cucumber number %d", i)) })
	assert.Equal(t, map[int]int{isWrong: guessesAtAccount, tooMany: 60 - guessesAtAccount}, same)
	assert.Equal(t, tooMany, ask(byPassword(stranger, "Ines", inesPassword)), "the right one is not looked at either")
	pass(time.Minute)
	names := count(func(i int) asking { return byPassword(stranger, fmt.Sprintf("Somebody %d", i), "cucumber") })
	assert.Equal(t, map[int]int{isWrong: guessesFromAddress, tooMany: 60 - guessesFromAddress}, names, "many names from one address")
	pass(time.Minute)
	assert.Equal(t, letIn, ask(byPassword(stranger, "Ines", inesPassword)), "never locked out for good")
}

// A stranger who guesses as hard as they can locks nobody out at the station, nor
// where somebody has been before.
func TestStrangersLockNobodyOut(t *testing.T) {
	ask, _, _, pass := doorOf(t)
	require.Equal(t, letIn, ask(byPassword(atLine, "Ines", inesPassword)))
	pass(time.Hour)
	refused := 0
	for host := range 12 { // and with twelve addresses
		for i := range guessesAtAccount + 1 {
			if ask(byPassword(fmt.Sprintf("198.51.100.%d:5000", host), "Ines", fmt.Sprint("cucumber ", i))) == tooMany {
				refused++
			}
		}
	}
	assert.Equal(t, 12*(guessesAtAccount+1)-guessesOfStrangers, refused, "strangers share an allowance on one account")
	assert.Equal(t, letIn, ask(byPassword(atStation, "Ines", inesPassword)))
	assert.Equal(t, letIn, ask(byPassword(atLine, "Ines", inesPassword)))
	assert.Equal(t, letIn, ask(byPassword(stranger, "Abel", inesPassword)), "another account is not concerned")
}

// Who has mistyped a few times and is then right begins anew; others' tries from
// there still count.
func TestRightAfterWrong(t *testing.T) {
	ask, _, _, _ := doorOf(t)
	for range 3 {
		for range guessesAtAccount - 1 {
			assert.Equal(t, isWrong, ask(byPassword(atLine, "Ines", "tomatoes at midnight")))
		}
		assert.Equal(t, letIn, ask(byPassword(atLine, "Ines", inesPassword)))
	}
}

// Whether there is an account of a name cannot be seen from how guesses at it
// are counted.
func TestNamesAreNotToldApart(t *testing.T) {
	ask, _, _, _ := doorOf(t)
	for range guessesAtAccount + 2 {
		assert.Equal(t, ask(byPassword(atLine, "Ines", "cucumber")), ask(byPassword(stranger, "Nobody", "cucumber")))
	}
}

// What a header claims of where a request comes from counts for nothing.
func TestForwardedHeadersCountForNothing(t *testing.T) {
	ask, _, _, _ := doorOf(t)
	got := map[int]int{}
	for i := range 10 {
		a := byPassword(stranger, "Ines", "cucumber")
		a.header = map[string]string{"X-Forwarded-For": fmt.Sprintf("192.0.2.%d", i), "Forwarded": "for=127.0.0.1", "X-Real-Ip": "127.0.0.1"}
		got[ask(a)]++
	}
	assert.Equal(t, map[int]int{isWrong: guessesAtAccount, tooMany: 10 - guessesAtAccount}, got)
}

// Every try is on record: when, who if there is such an account, from where, how;
// and nothing of what was typed.
func TestSignInsAreRecorded(t *testing.T) {
	ask, site, badges, _ := doorOf(t)
	ask(byPassword(stranger, "Ines", "my secret cucumber"))
	ask(byPassword(stranger, "my secret cucumber", ""))
	misread := account.NewBadge()
	ask(byBadge(atLine, misread))
	ask(byBadge(atLine, badges["Abel"]))
	ask(byPassword(atStation, "Ines", inesPassword))
	for range 20 {
		ask(byPassword(stranger, "Ines", "my secret cucumber"))
	}
	list, err := site.Store.SignIns.Last(t.Context(), 100)
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
}

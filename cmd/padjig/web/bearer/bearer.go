// Package bearer lets programs in by their tokens: the header of RFC 6750 and no other way,
// no oftener than a program needs, and whoever tries texts that are no tokens not often at all.
package bearer

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/web/api"
	"padjig/results/tokens"
)

// How often is enough: a bucket of so many, which fills again by one in each of these times.
const (
	Burst       = 120 // of one token
	refill      = 200 * time.Millisecond
	Tries       = 10 // that opened nothing, from one address
	tryAgain    = 6 * time.Second
	mostBuckets = 10_000
)

// Gate lets programs in.
type Gate struct {
	tokens *tokens.Records

	mu      sync.Mutex
	buckets map[string]bucket
}

// bucket is how much was left of an allowance, and when.
type bucket struct {
	left float64
	at   time.Time
}

// New lets those in whose tokens are in the records; that a use could not be noted is logged.
func New(t *tokens.Records) *Gate {
	return &Gate{tokens: t, buckets: map[string]bucket{}}
}

// Refusal is why a token opens nothing: a word for the count, a sentence for whoever runs the station.
type Refusal struct {
	api.Problem
	Why   string
	Token string // name of it; empty: there is none such
	Again bool   // one of a row that was told of already
}

func refused(status int, why, detail, remedy string) *Refusal {
	return &Refusal{Problem: api.Problem{Status: status, Code: "token " + why, Detail: detail, Remedy: remedy}, Why: why}
}

const newToken = "a token that padjig station tokens add made, sent as Authorization: Bearer"

// Admit lets a request in, or says why not. What many good requests use up is refilled soon; tokens
// that are none never stand in the way of one that is, wherever they come from.
func (g *Gate) Admit(ctx context.Context, header http.Header, address string, scope tokens.Scope) (*tokens.Token, error) {
	t, no, err := g.find(ctx, header, scope)
	if err != nil {
		return nil, err
	}
	if no == nil {
		if wait := g.take("token "+strconv.FormatInt(t.Seq, 10), Burst, refill); wait > 0 {
			no = refused(http.StatusTooManyRequests, "too often", "this token is used too often", "fewer requests, or larger pages")
			no.Wait, no.Token = wait, t.Name
			return nil, no
		}
		if err := g.tokens.Use(ctx, *t); err != nil { // reading goes on where nothing can be written any more
			log.From(ctx).ErrorContext(ctx, log.AnswerFailed, "token", t.Name, "why", err)
		}
		return t, nil
	}
	if wait := g.take("from "+address, Tries, tryAgain); wait > 0 && no.Status == http.StatusUnauthorized {
		name := no.Token
		no = refused(http.StatusTooManyRequests, "too many", "too many requests from this address had no token that opens anything", newToken)
		no.Wait, no.Token, no.Again = wait, name, true
	}
	return nil, no
}

// Still reports whether a token opens what it did, now that the answer is made.
func (g *Gate) Still(ctx context.Context, header http.Header, scope tokens.Scope) error {
	_, no, err := g.find(ctx, header, scope)
	if err == nil && no != nil {
		return no
	}
	return err
}

func (g *Gate) find(ctx context.Context, header http.Header, scope tokens.Scope) (*tokens.Token, *Refusal, error) {
	given := header.Values("Authorization")
	if len(given) == 0 {
		return nil, refused(http.StatusUnauthorized, "missing", "there is no token", newToken), nil
	}
	kind, text, _ := strings.Cut(given[0], " ")
	hash, is := account.HashToken(text)
	if len(given) > 1 || !strings.EqualFold(kind, "Bearer") || !is {
		return nil, refused(http.StatusUnauthorized, "malformed", "that is no token", newToken), nil
	}
	t, err := g.tokens.Of(ctx, hash)
	now := time.Now()
	var no *Refusal
	switch {
	case err != nil:
		return nil, nil, err
	case t == nil:
		return nil, refused(http.StatusUnauthorized, "unknown", "that token opens nothing here", newToken), nil
	case t.EndedBy != "":
		no = refused(http.StatusUnauthorized, "revoked", "that token was revoked", newToken)
	case !t.Good(now):
		no = refused(http.StatusUnauthorized, "expired", "that token ran out", newToken)
	case !t.Opens(scope, now):
		no = refused(http.StatusForbidden, "scope", "that token does not open "+string(scope), "a token with --scope "+string(scope))
	default:
		return t, nil, nil
	}
	no.Token = t.Name
	return nil, no, nil
}

// take takes one of an allowance, and gives the seconds to wait where nothing is left.
func (g *Gate) take(of string, most float64, each time.Duration) (wait int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := time.Now()
	if len(g.buckets) >= mostBuckets {
		clear(g.buckets) // an attack from everywhere; who is let in begins with a full one
	}
	b, known := g.buckets[of]
	if !known {
		b = bucket{most, now}
	}
	b.left = min(most, b.left+float64(now.Sub(b.at))/float64(each))
	b.at = now
	if b.left < 1 {
		wait = max(1, int((1-b.left)*each.Seconds()+0.999))
	} else {
		b.left--
	}
	g.buckets[of] = b
	return wait
}

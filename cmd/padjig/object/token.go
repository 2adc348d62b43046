package object

import (
	"strings"
	"time"

	"padjig/results/tokens"
)

// Tokens are those of programs that read from the station.
type Tokens struct {
	Tokens []Token `json:"tokens"`
}

type Token struct {
	Name      string   `json:"name"`
	Scopes    []string `json:"scopes"`
	Until     string   `json:"until"`
	Made      string   `json:"made"`
	By        string   `json:"by"`
	Used      string   `json:"used"`       // last day of UTC on which it was; empty: never
	Good      bool     `json:"good"`       // it opens now
	RevokedBy string   `json:"revoked_by"` // empty where nobody did
	Revoked   string   `json:"revoked"`
}

// Opens are its scopes in a row.
func (t Token) Opens() string { return strings.Join(t.Scopes, ", ") }

func TokenOf(t tokens.Token, now time.Time) Token {
	out := Token{
		t.Name, each(t.Scopes, func(s tokens.Scope) string { return string(s) }), t.Until.UTC().Format(time.RFC3339),
		t.At.UTC().Format(time.RFC3339), t.By, t.Used, t.Good(now), t.EndedBy, "",
	}
	if !t.Ended.IsZero() {
		out.Revoked = t.Ended.UTC().Format(time.RFC3339)
	}
	return out
}

// TokensOf lists tokens without their hashes.
func TokensOf(list []tokens.Token, now time.Time) Tokens {
	return Tokens{each(list, func(t tokens.Token) Token { return TokenOf(t, now) })}
}

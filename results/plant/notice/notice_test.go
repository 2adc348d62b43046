package notice_test

import (
	"bytes"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/notice"
)

var day = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// keyOf is a key that is always the same.
func keyOf(n byte) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(bytes.Repeat([]byte{n}, ed25519.SeedSize))
}

func publicOf(n byte) ed25519.PublicKey { return notice.PublicOf(keyOf(n)) }

type told struct {
	kind    notice.Kind
	subject string
	body    any
}

func keyBody(n byte) notice.KeyBody { return notice.KeyBody{Key: hex.EncodeToString(publicOf(n))} }

func release(label string) notice.ReleaseBody {
	return notice.ReleaseBody{Label: label, Hash: strings.Repeat("ab", 32), Source: "keypad: " + label + "\n", By: "Ines", Reason: "a better membrane"}
}

// issued is a chain of notices, all by one key but for those after a rotation.
func issued(t *testing.T, all ...told) ([]notice.Notice, notice.Chain) {
	t.Helper()
	key, chain := keyOf(1), notice.Begin([]ed25519.PublicKey{publicOf(1)})
	var list []notice.Notice
	for _, one := range append([]told{{notice.Beginning, "", keyBody(1)}}, all...) {
		n, next, err := chain.Issue(one.kind, one.subject, one.body, day, key)
		require.NoError(t, err)
		list, chain = append(list, n), next
		if body, is := one.body.(notice.KeyBody); is && body == keyBody(2) {
			key = keyOf(2)
		}
	}
	return list, chain
}

// codes takes notices one after another, up to the first that is wrong.
func codes(chain notice.Chain, list ...notice.Notice) (notice.Chain, []notice.Code) {
	for _, n := range list {
		next, wrong := chain.Next(n)
		if len(wrong) > 0 {
			return chain, codesOf(wrong)
		}
		chain = next
	}
	return chain, nil
}

func codesOf(wrong []notice.Mistake) (all []notice.Code) {
	for _, m := range wrong {
		all = append(all, m.Code)
	}
	return all
}

// The vectors of RFC 8032, section 7.1, tests 1 and 2: written down from memory, and held to by a signature that
// no slip would leave whole.
func TestKeysAreThoseOfTheStandard(t *testing.T) {
	for _, v := range []struct{ secret, public, message, signature string }{
		{"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60", "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
			"e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"},
		{"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb", "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
			"92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"},
	} {
		seed, err := hex.DecodeString(v.secret)
		require.NoError(t, err)
		text, err := notice.PrivatePEM(ed25519.NewKeyFromSeed(seed))
		require.NoError(t, err)
		key, err := notice.ReadPrivate(text)
		require.NoError(t, err)
		message, err := hex.DecodeString(v.message)
		require.NoError(t, err)
		assert.Equal(t, v.public, hex.EncodeToString(notice.PublicOf(key)))
		assert.Equal(t, v.signature, hex.EncodeToString(ed25519.Sign(key, message)))
		public, err := notice.PublicPEM(notice.PublicOf(key))
		require.NoError(t, err)
		read, err := notice.ReadPublic(public)
		require.NoError(t, err)
		assert.Equal(t, []ed25519.PublicKey{notice.PublicOf(key)}, read)
	}
}

func TestKeyFilesThatAreNone(t *testing.T) {
	private, err := notice.PrivatePEM(keyOf(1))
	require.NoError(t, err)
	public, err := notice.PublicPEM(publicOf(1))
	require.NoError(t, err)
	for _, text := range [][]byte{nil, []byte("key"), public} {
		_, err := notice.ReadPrivate(text)
		assert.ErrorIs(t, err, notice.ErrNoPrivateKey)
	}
	for _, text := range [][]byte{nil, []byte("key"), private, append(public, private...)} {
		_, err := notice.ReadPublic(text)
		assert.ErrorIs(t, err, notice.ErrNoPublicKey)
	}
}

func TestChain(t *testing.T) {
	list, end := issued(t, told{notice.Release, "GCC-20", release("B")}, told{notice.Return, "GCC-20", release("A")})
	chain, wrong := codes(notice.Begin([]ed25519.PublicKey{publicOf(1)}), list...)
	assert.Empty(t, wrong)
	assert.Equal(t, end, chain)
	assert.EqualValues(t, 3, chain.Number)
}

// Whatever is changed of a notice, however little, it is not believed; nor in another place.
func TestWhatIsNotBelieved(t *testing.T) {
	list, _ := issued(t, told{notice.Release, "GCC-20", release("B")}, told{notice.Release, "GCC-20", release("C")})
	begun, wrong := codes(notice.Begin([]ed25519.PublicKey{publicOf(1)}), list[0])
	require.Empty(t, wrong)
	changed := func(change func(*notice.Notice)) notice.Notice {
		n := list[1]
		n.Body, n.Signature = bytes.Clone(n.Body), bytes.Clone(n.Signature)
		change(&n)
		return n
	}
	for name, c := range map[string]struct {
		n    notice.Notice
		want []notice.Code
	}{
		"forged":           {changed(func(n *notice.Notice) { *n = n.Sign(begun.Plant, keyOf(9)) }), []notice.Code{notice.WrongSignature}},
		"a bit of it":      {changed(func(n *notice.Notice) { n.Signature[5] ^= 1 }), []notice.Code{notice.WrongSignature}},
		"unsigned":         {changed(func(n *notice.Notice) { n.Signature = nil }), []notice.Code{notice.WrongSignature}},
		"the body":         {changed(func(n *notice.Notice) { n.Body = bytes.Replace(n.Body, []byte("Ines"), []byte("Abel"), 1) }), []notice.Code{notice.WrongSignature}},
		"the subject":      {changed(func(n *notice.Notice) { n.Subject = "GCC-30" }), []notice.Code{notice.WrongSignature}},
		"the time":         {changed(func(n *notice.Notice) { n.Issued = n.Issued.Add(time.Microsecond) }), []notice.Code{notice.WrongSignature}},
		"the kind":         {changed(func(n *notice.Notice) { n.Kind = notice.Return }), []notice.Code{notice.WrongSignature}},
		"a gap":            {list[2], []notice.Code{notice.WrongNumber, notice.WrongBefore}},
		"once more":        {list[0], []notice.Code{notice.WrongNumber, notice.WrongBefore}},
		"renumbered":       {changed(func(n *notice.Notice) { *n = list[2]; n.Number, n.Before = 2, list[1].Before }), []notice.Code{notice.WrongSignature}},
		"of another plant": {changed(func(n *notice.Notice) { *n = n.Sign(notice.FingerprintOf(publicOf(9)), keyOf(1)) }), []notice.Code{notice.WrongSignature}},
		"a newer kind":     {changed(func(n *notice.Notice) { n.Kind = "weather"; *n = n.Sign(begun.Plant, keyOf(1)) }), []notice.Code{notice.WrongKind}},
		"a blank in it":    {changed(func(n *notice.Notice) { n.Body = append([]byte(" "), n.Body...); *n = n.Sign(begun.Plant, keyOf(1)) }), []notice.Code{notice.WrongBody}},
		"doubled member": {changed(func(n *notice.Notice) {
			n.Body = bytes.Replace(n.Body, []byte(`{`), []byte(`{"approved":"Mia",`), 1)
			*n = n.Sign(begun.Plant, keyOf(1))
		}), []notice.Code{notice.WrongBody}},
		"nothing right": {notice.Notice{Number: 7, Kind: "weather"}, []notice.Code{notice.WrongNumber, notice.WrongBefore, notice.WrongSignature, notice.WrongKind}},
	} {
		t.Run(name, func(t *testing.T) {
			after, wrong := begun.Next(c.n)
			assert.Equal(t, c.want, codesOf(wrong))
			assert.Equal(t, begun, after)
		})
	}
}

// A plain secret never leaves the office, nor a role that is none.
func TestAccountsThatAreNotTold(t *testing.T) {
	_, chain := issued(t)
	event := notice.AccountEvent{Kind: "badge", Secret: strings.Repeat("0f", 32), By: "Ines", At: 1}
	for name, change := range map[string]func(*notice.AccountEvent){
		"plain secret":   func(e *notice.AccountEvent) { e.Secret = "PJ-7Q2M-88" },
		"no secret":      func(e *notice.AccountEvent) { e.Secret = "" },
		"unknown role":   func(e *notice.AccountEvent) { e.Kind, e.Role, e.Secret = "role", "owner", "" },
		"secret of role": func(e *notice.AccountEvent) { e.Kind, e.Role = "role", "operator" },
		"nobody":         func(e *notice.AccountEvent) { e.By = "" },
		"unknown kind":   func(e *notice.AccountEvent) { e.Kind, e.Secret = "promoted", "" },
	} {
		bad := event
		change(&bad)
		_, _, err := chain.Issue(notice.Account, "Abel", notice.AccountBody{Events: []notice.AccountEvent{bad}}, day, keyOf(1))
		assert.ErrorContains(t, err, string(notice.WrongBody), name)
	}
	_, _, err := chain.Issue(notice.Account, "Abel", notice.AccountBody{Events: []notice.AccountEvent{event}}, day, keyOf(1))
	assert.NoError(t, err)
}

// One notice names the next key; from it on the old one is good for nothing.
func TestRotation(t *testing.T) {
	list, end := issued(t, told{notice.Rotation, "", keyBody(2)}, told{notice.Release, "GCC-20", release("B")})
	head := notice.Head{Count: 3, Hash: end.Hash, Issued: day}
	for name, pinned := range map[string][]ed25519.PublicKey{"the old key": {publicOf(1)}, "both": {publicOf(1), publicOf(2)}} {
		chain, wrong := codes(notice.Begin(pinned), list...)
		assert.Empty(t, wrong, name)
		assert.Equal(t, publicOf(2), chain.Key(), name)
		assert.Empty(t, chain.Believed(head.Sign(chain.Plant, keyOf(2)), nil), name)
		assert.Equal(t, []notice.Code{notice.WrongSignature}, codesOf(chain.Believed(head.Sign(chain.Plant, keyOf(1)), nil)), name)
	}
	chain, wrong := codes(notice.Begin([]ed25519.PublicKey{publicOf(1), publicOf(3)}), list...)
	assert.Equal(t, []notice.Code{notice.WrongKey}, wrong, "another key than the pinned one was named")
	assert.EqualValues(t, 1, chain.Number)

	// Who has the old key only goes on from before the rotation.
	stolen, after := issued(t, told{notice.Release, "GCC-20", release("X")})
	chain, wrong = codes(notice.Begin([]ed25519.PublicKey{publicOf(1), publicOf(2)}), stolen...)
	require.Empty(t, wrong)
	forged := notice.Head{Count: 2, Hash: after.Hash, Issued: day}.Sign(chain.Plant, keyOf(1))
	assert.Equal(t, []notice.Code{notice.WrongSignature}, codesOf(chain.Believed(forged, nil)))
	_, wrong = codes(end, func() notice.Notice {
		n := list[2]
		n.Number, n.Before = 4, end.Hash
		return n.Sign(end.Plant, keyOf(1))
	}())
	assert.Equal(t, []notice.Code{notice.WrongSignature}, wrong)
}

func TestHeads(t *testing.T) {
	list, end := issued(t, told{notice.Release, "GCC-20", release("B")})
	chain, _ := codes(notice.Begin([]ed25519.PublicKey{publicOf(1)}), list...)
	head := func(change func(*notice.Head)) notice.Head {
		h := notice.Head{Count: 2, Hash: end.Hash, Issued: day, Products: map[string]int64{"GCC-20": 2, "GCC-30": 1}}
		change(&h)
		return h.Sign(end.Plant, keyOf(1))
	}
	good := head(func(*notice.Head) {})
	assert.Empty(t, chain.Believed(good, &good))
	assert.Nil(t, chain.Missing(good))
	for name, c := range map[string]struct {
		h    notice.Head
		want []notice.Code
	}{
		"other notices":   {head(func(h *notice.Head) { h.Hash[0] ^= 1 }), []notice.Code{notice.OtherChain}},
		"one fewer":       {head(func(h *notice.Head) { h.Count, h.Hash = 1, list[0].Hash(end.Plant) }), []notice.Code{notice.OlderHead}},
		"one of before":   {head(func(h *notice.Head) { h.Issued = day.Add(-time.Second) }), []notice.Code{notice.OlderHead}},
		"forged":          {head(func(*notice.Head) {}).Sign(end.Plant, keyOf(9)), []notice.Code{notice.WrongSignature}},
		"another plant's": {head(func(*notice.Head) {}).Sign(notice.FingerprintOf(publicOf(9)), keyOf(1)), []notice.Code{notice.WrongSignature}},
		"another product": {func() notice.Head {
			h := head(func(*notice.Head) {})
			h.Products = map[string]int64{"GCC-20": 2}
			return h
		}(), []notice.Code{notice.WrongSignature}},
	} {
		assert.Equal(t, c.want, codesOf(chain.Believed(c.h, &good)), name)
	}
	more := head(func(h *notice.Head) { h.Count, h.Hash = 3, notice.Hash{1} })
	assert.Empty(t, chain.Believed(more, &good))
	assert.Equal(t, notice.Withheld, chain.Missing(more).Code)
}

func TestCanonical(t *testing.T) {
	text, err := notice.Canonical(map[string]any{"b": []any{1, true, "a\"\\\n\x01é<&"}, "a": map[string]any{}})
	require.NoError(t, err)
	assert.Equal(t, `{"a":{},"b":[1,true,"a\"\\\n\u0001é<&"]}`, string(text))
	for _, bad := range []any{1.5, nil, json.Number("9007199254740993"), map[string]any{"a": nil}} {
		_, err := notice.Canonical(bad)
		assert.ErrorIs(t, err, notice.ErrNotCanonical, bad)
	}
}

// Bytes from anywhere are refused or a notice, and never more than that.
func FuzzBody(f *testing.F) {
	body, err := notice.Canonical(release("B"))
	require.NoError(f, err)
	f.Add(body)
	f.Add([]byte(`{"events":[{"at_us":1,"by":"Ines","kind":"closed","role":"","secret":""}]}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		b, err := notice.Notice{Body: body}.AsRelease()
		if err != nil {
			return
		}
		again, err := notice.Canonical(b)
		require.NoError(t, err)
		assert.Equal(t, string(body), string(again), "two texts would mean one thing")
	})
}

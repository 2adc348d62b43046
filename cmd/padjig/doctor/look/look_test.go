package look_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"math/big"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/doctor/look"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/accounts"
)

// computer has one adapter, and whoever holds it.
func computer(holder string) look.Computer {
	proc := fstest.MapFS{"self/comm": {Data: []byte("x")}}
	if holder != "" {
		proc["712/comm"] = &fstest.MapFile{Data: []byte(holder + "\n")}
		proc["712/fd/7"] = &fstest.MapFile{Data: []byte("/dev/ttyUSB9"), Mode: os.ModeSymlink | 0o777}
		proc["713/fd/1"] = &fstest.MapFile{Data: []byte("/dev/null"), Mode: os.ModeSymlink | 0o777}
	}
	return look.Computer{
		Sys:    fstest.MapFS{"bus/usb-serial/devices/ttyUSB9/latency_timer": {Data: []byte("16\n")}},
		Proc:   proc,
		Ports:  func() ([]link.Port, error) { return []link.Port{{Path: "/dev/ttyUSB9", Name: "ttyUSB9"}}, nil },
		Access: func(string) (bool, string) { return false, "dialout" },
	}
}

// Ports are looked at without being opened: permission, group, timer, and who has them.
func TestPortsAreLookedAt(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.sqlite")
	f := look.At(t.Context(), look.Asked{Path: path, Computer: computer("")})
	assert.Equal(t, []doctor.Port{{Path: "/dev/ttyUSB9", Name: "ttyUSB9", Group: "dialout", Latency: 16 * time.Millisecond}}, f.Ports)
	f = look.At(t.Context(), look.Asked{Path: path, Computer: computer("ModemManager")})
	assert.Equal(t, "ModemManager", f.Ports[0].Holder)
	assert.Equal(t, 712, f.Ports[0].PID)
	assert.False(t, f.Ports[0].Ours)
	assert.True(t, look.At(t.Context(), look.Asked{Path: path, Computer: computer("padjig")}).Ports[0].Ours)
	c := computer("")
	c.Ports = func() ([]link.Port, error) { return nil, errors.New("no /dev") }
	f = look.At(t.Context(), look.Asked{Path: path, Computer: c})
	assert.Nil(t, f.Ports)
	assert.Equal(t, "no /dev", f.Unread[doctor.Ports])
}

// Records and their disk are looked at beside who has them open, and left as they were: no file
// more, none less, nothing written.
func TestNothingIsLeftBehind(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "r.sqlite")
	require.NoError(t, os.WriteFile(path+"-ballast", nil, 0o644))
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountRole, Role: "engineer", By: "terminal"}))
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountPassword, Secret: "hash", By: "terminal"}))
	reader, err := results.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, reader.Close()) })
	names := func() (out []string) {
		entries, err := os.ReadDir(folder)
		require.NoError(t, err)
		for _, e := range entries {
			out = append(out, e.Name())
		}
		return out
	}
	before := names()
	f := look.At(t.Context(), look.Asked{Store: reader, Path: path, Computer: computer("")})
	assert.Equal(t, &doctor.Backup{}, f.Backup)
	assert.Equal(t, before, names())
	assert.Empty(t, f.Unread)
	assert.Equal(t, doctor.RecordsSound, f.Records.State)
	assert.Positive(t, f.Records.Schema)
	assert.Equal(t, &[]string{}, orEmpty(f.Faults))
	assert.Len(t, f.Syncs, 9)
	require.NotNil(t, f.Disk)
	assert.True(t, f.Disk.Writable && f.Disk.Dedicated)
	require.Len(t, *f.People, 1)
	assert.True(t, (*f.People)[0].Engineer && (*f.People)[0].Decides)
	assert.Equal(t, &doctor.Zones{Computer: time.Now().Local().Format("MST")}, f.Zones)
	assert.Empty(t, *f.Release)
	assert.True(t, f.Newest.IsZero())
}

func orEmpty(faults *[]string) *[]string {
	if faults != nil && *faults == nil {
		return &[]string{}
	}
	return faults
}

// Without records, where their folder is not made yet, and where they are something else, what can
// be looked at is.
func TestWithoutRecords(t *testing.T) {
	folder := t.TempDir()
	f := look.At(t.Context(), look.Asked{Path: filepath.Join(folder, "padjig", "deep", "r.sqlite"), Computer: computer("")})
	assert.Equal(t, doctor.RecordsNone, f.Records.State)
	require.NotNil(t, f.Disk)
	assert.Equal(t, folder, f.Disk.Folder)
	assert.NotEmpty(t, f.Syncs)
	_, err := os.Stat(filepath.Join(folder, "padjig"))
	assert.ErrorIs(t, err, os.ErrNotExist, "nothing is made")

	text := filepath.Join(folder, "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte("tomatoes"), 0o644))
	_, failed := results.OpenReadOnly(t.Context(), text)
	f = look.At(t.Context(), look.Asked{Path: text, Failed: failed, Computer: computer("")})
	assert.Equal(t, doctor.RecordsBroken, f.Records.State)
	assert.Contains(t, f.Records.Why, "not a padjig store")
}

// The station's address is asked as a browser does: whether anything answers, and whether it is
// a station.
func TestTheAddressIsAsked(t *testing.T) {
	asked := func(h http.HandlerFunc) *doctor.Reached {
		s := httptest.NewServer(h)
		defer s.Close()
		return look.At(t.Context(), look.Asked{Path: t.TempDir() + "/r.sqlite", Listen: strings.TrimPrefix(s.URL, "http://")}).Reached
	}
	r := asked(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusTeapot) })
	assert.True(t, r.Answers && !r.Ours && r.Local)
	assert.Equal(t, http.StatusTeapot, r.Status)
	r = asked(func(w http.ResponseWriter, r *http.Request) {
		assert.Equal(t, "/door", r.URL.Path)
		w.Header().Set("Content-Security-Policy", "default-src 'none'; img-src 'self'")
		w.Header().Set("Cross-Origin-Opener-Policy", "same-origin")
	})
	assert.True(t, r.Answers && r.Ours)

	s := httptest.NewServer(http.NotFoundHandler())
	address := strings.TrimPrefix(s.URL, "http://")
	s.Close()
	r = look.At(t.Context(), look.Asked{Path: t.TempDir() + "/r.sqlite", Listen: address}).Reached
	assert.False(t, r.Answers)
	assert.Nil(t, look.At(t.Context(), look.Asked{Path: t.TempDir() + "/r.sqlite"}).Reached)
}

// A certificate is read with its key: one that is over, or without its key, shows.
func TestTheCertificateIsRead(t *testing.T) {
	folder := t.TempDir()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	until := time.Now().Add(time.Hour).Truncate(time.Second).UTC()
	made, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: until},
		&x509.Certificate{SerialNumber: big.NewInt(1)}, &key.PublicKey, key)
	require.NoError(t, err)
	raw, err := x509.MarshalECPrivateKey(key)
	require.NoError(t, err)
	certFile, keyFile := filepath.Join(folder, "c.pem"), filepath.Join(folder, "k.pem")
	require.NoError(t, os.WriteFile(certFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: made}), 0o600))
	require.NoError(t, os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: raw}), 0o600))
	of := func(cert, key string) *doctor.Certificate {
		return look.At(t.Context(), look.Asked{Path: folder + "/r.sqlite", Listen: "127.0.0.1:1", Cert: cert, Key: key}).Cert
	}
	assert.Equal(t, until, of(certFile, keyFile).Before)
	assert.NotEmpty(t, of(certFile, certFile).Why)
	assert.NotEmpty(t, of(keyFile+"x", keyFile).Why)
	assert.True(t, of("", "").None)
}

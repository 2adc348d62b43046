package postgres

import (
	"crypto/sha256"
	"crypto/subtle"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// pinned is the word of an address that names the server's certificate by its SHA-256. It is ours,
// not PostgreSQL's, and never sent.
const pinned = "pin"

// UntrustedError is an address or a server that records are not entrusted to.
type UntrustedError struct {
	Remedy string
	cause  error
}

func (e *UntrustedError) Error() string { return e.cause.Error() }
func (e *UntrustedError) Unwrap() error { return e.cause }

// Untrusted reports whether an error says that an address would trust anybody, or that a server did not show who it is.
func Untrusted(err error) bool {
	_, is := errors.AsType[*UntrustedError](err)
	return is
}

// How an address says whom to trust.
const (
	trustRemedy = "in the address sslmode=verify-full sslrootcert=FILE with the certificate that the server's was signed by, " +
		"or pin=SHA256 of the server's own; docs/plant.md says how to make them"
	plainRemedy = "for a line that nobody else can reach, sslmode=disable says so"
)

// trust holds the connections of an address to servers that show who they are. Over a socket of the same machine the
// system says so; over a network it is a certificate that is pinned, by the file of its authority or by its own sum.
// Without encryption it goes only where the address says sslmode=disable itself.
func trust(config *pgx.ConnConfig) error {
	pin, isPinned := config.RuntimeParams[pinned]
	delete(config.RuntimeParams, pinned)
	sum, err := pinOf(pin)
	if isPinned && err != nil {
		return err
	}
	ways := []*pgconn.FallbackConfig{{Host: config.Host, Port: config.Port, TLSConfig: config.TLSConfig}}
	ways = append(ways, config.Fallbacks...)
	var kept []*pgconn.FallbackConfig
	encrypted := map[string]bool{}
	for _, way := range ways {
		encrypted[way.Host] = encrypted[way.Host] || way.TLSConfig != nil
	}
	for _, way := range ways {
		switch {
		case isSocket(way.Host):
		case way.TLSConfig == nil && encrypted[way.Host]:
			continue // what an address that says nothing would fall back to
		case way.TLSConfig == nil && isPinned:
			return &UntrustedError{"leave one of them out", errors.New("the address has pin= and sslmode=disable: what is not encrypted shows no certificate")}
		case way.TLSConfig == nil:
		case isPinned:
			way.TLSConfig.InsecureSkipVerify = true // what stands in for it is stricter
			way.TLSConfig.VerifyConnection = onlyThis(sum)
			way.TLSConfig.VerifyPeerCertificate = nil
		case way.TLSConfig.InsecureSkipVerify || way.TLSConfig.RootCAs == nil:
			return &UntrustedError{trustRemedy + "; " + plainRemedy, fmt.Errorf("the address trusts whoever answers at %s", way.Host)}
		}
		kept = append(kept, way)
	}
	config.Host, config.Port, config.TLSConfig = kept[0].Host, kept[0].Port, kept[0].TLSConfig
	config.Fallbacks = kept[1:]
	return nil
}

// isSocket reports whether a host is a folder, or a name that Linux keeps for sockets.
func isSocket(host string) bool { return strings.HasPrefix(host, "/") || strings.HasPrefix(host, "@") }

// pinOf reads the SHA-256 of a certificate as openssl prints it, with or without colons.
func pinOf(text string) (sum [sha256.Size]byte, err error) {
	bytes, err := hex.DecodeString(strings.ReplaceAll(text, ":", ""))
	if err != nil || len(bytes) != len(sum) {
		return sum, &UntrustedError{"openssl x509 -in server.crt -noout -fingerprint -sha256 prints it",
			fmt.Errorf("pin=%s in the address is no SHA-256 of a certificate: 64 hexadecimal digits", text)}
	}
	return [sha256.Size]byte(bytes), nil
}

// onlyThis accepts the certificate with this sum while it is valid. Whose name is in it does not matter: its key does.
func onlyThis(sum [sha256.Size]byte) func(tls.ConnectionState) error {
	return func(s tls.ConnectionState) error {
		shown := s.PeerCertificates[0]
		is := sha256.Sum256(shown.Raw)
		if subtle.ConstantTimeCompare(is[:], sum[:]) != 1 {
			return &UntrustedError{"if the server got another certificate, ask who looks after it for its sum; else somebody stands between",
				fmt.Errorf("the server shows another certificate than the one that is pinned: %x", is)}
		}
		if now := time.Now(); now.After(shown.NotAfter) || now.Before(shown.NotBefore) {
			return x509.CertificateInvalidError{Cert: shown, Reason: x509.Expired}
		}
		return nil
	}
}

// untrusted adds a remedy to what speaks against a server.
func untrusted(err error) error {
	if err == nil || Untrusted(err) {
		return err
	}
	if invalid, ok := errors.AsType[x509.CertificateInvalidError](err); ok && invalid.Reason == x509.Expired {
		return &UntrustedError{"a new certificate for the server, or the clock of this computer", err}
	}
	if _, ok := errors.AsType[x509.HostnameError](err); ok {
		return &UntrustedError{"in the address the name that stands in the server's certificate", err}
	}
	if _, ok := errors.AsType[x509.UnknownAuthorityError](err); ok {
		return &UntrustedError{"sslrootcert=FILE of the authority that signed the server's certificate; if it is that one, somebody stands between", err}
	}
	if strings.Contains(err.Error(), "server refused TLS connection") { // pgx has no value for it
		return &UntrustedError{"ssl = on in postgresql.conf of the server; docs/plant.md says how", err}
	}
	return err
}

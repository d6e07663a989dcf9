package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// How long a certificate of our own is good for, and how long before its end the
// next is made.
const (
	certificateLasts = 397 * 24 * time.Hour
	certificateAhead = 30 * 24 * time.Hour
)

// certificate is the one to be known by: that of --cert, or one made here, which is
// kept so that browsers meet the same one again.
func (o serveFlags) certificate(env *Env, hosts []string) (tls.Certificate, error) {
	if o.cert != "" {
		key := o.key
		if key == "" {
			key = o.cert
		}
		c, err := tls.LoadX509KeyPair(env.path(o.cert), env.path(key))
		if err != nil {
			return c, fmt.Errorf("--cert %s: cannot be used (%w); give a certificate in PEM, and with --key its private key", quoted(o.cert), reason(err))
		}
		return c, nil
	}
	usual, err := env.usualBench()
	if err != nil {
		return tls.Certificate{}, err
	}
	file := filepath.Join(filepath.Dir(usual), "serve.pem")
	if c, err := tls.LoadX509KeyPair(file, file); err == nil && stillGood(c.Leaf, hosts, env.now()) {
		return c, nil
	}
	text, err := selfMade(hosts, env.now())
	if err == nil {
		err = keep(file, text)
	}
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("the certificate for this server cannot be kept in %s (%w); make room there, or give one with --cert", quoted(file), reason(err))
	}
	return tls.X509KeyPair(text, text)
}

// stillGood tells whether a certificate is for all hosts, and for a while yet.
func stillGood(c *x509.Certificate, hosts []string, now time.Time) bool {
	if c == nil || now.Before(c.NotBefore) || now.Add(certificateAhead).After(c.NotAfter) {
		return false
	}
	for _, h := range hosts {
		if c.VerifyHostname(h) != nil {
			return false
		}
	}
	return true
}

// selfMade makes a certificate and its key, in PEM.
func selfMade(hosts []string, now time.Time) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, err
	}
	c := x509.Certificate{SerialNumber: serial, Subject: pkix.Name{CommonName: "masstone bench"}, NotBefore: now.Add(-time.Hour), NotAfter: now.Add(certificateLasts),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			c.IPAddresses = append(c.IPAddresses, ip)
		} else {
			c.DNSNames = append(c.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, &c, &c, &key.PublicKey, key)
	if err != nil {
		return nil, err
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	pem.Encode(&out, &pem.Block{Type: "CERTIFICATE", Bytes: der})
	pem.Encode(&out, &pem.Block{Type: "PRIVATE KEY", Bytes: private})
	return out.Bytes(), nil
}

// keep writes a file for its owner alone, whole or not at all.
func keep(file string, text []byte) error {
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(file), ".serve-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(text)
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), file)
}

// fingerprint is what browsers show of a certificate, to compare by eye.
func fingerprint(c tls.Certificate) string {
	var pairs []string
	for _, b := range sha256.Sum256(c.Certificate[0]) {
		pairs = append(pairs, fmt.Sprintf("%02X", b))
	}
	return strings.Join(pairs, ":")
}

"""Who may look at the dashboard: the passphrase, the certificate, the sessions and the gate."""

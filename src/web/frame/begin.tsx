// An empty folder: what it can be begun from. One press makes the files, and the drawing is two presses away.

import { useState } from 'preact/hooks';
import { begin, folderName, templates } from '../state/session.ts';
import { notice, place } from '../state/store.ts';

export function Begin() {
  const [busy, setBusy] = useState('');
  const start = (name: string): void => {
    setBusy(name);
    void begin(name).then((refused) => {
      setBusy('');
      if (refused !== undefined) notice.value = refused;
      else place.value = 'boards';
    });
  };
  return (
    <div class="page">
      <div class="empty">
        <h2>What are you building?</h2>
        <p>
          The folder {folderName.value} holds no machine yet. Begin with one of these and change it: everything is in
          one text file, and every line of it is checked as you write.
        </p>
        <table>
          <thead>
            <tr>
              <th scope="col">begin from</th>
              <th scope="col">what it is</th>
              <th scope="col">
                <span class="vh">begin</span>
              </th>
            </tr>
          </thead>
          <tbody>
            {templates.value.map((item) => (
              <tr key={item.name}>
                <td class="b">{item.title}</td>
                <td>{item.about}</td>
                <td class="r">
                  <button type="button" class="do main" disabled={busy !== ''} onClick={() => start(item.name)}>
                    begin<span class="vh"> with {item.title}</span>
                  </button>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </div>
  );
}
